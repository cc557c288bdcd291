// SPDX-License-Identifier: Apache-2.0
/**
 * The one way in which both programs open, make, replace and remove files: regular files only, no link but one that a
 * person named, whole or not at all, and nothing through a place that somebody else can change. {@code DiskMapTest} in
 * each module finds any other.
 */
package dev.loadwitness.runlog.disk;

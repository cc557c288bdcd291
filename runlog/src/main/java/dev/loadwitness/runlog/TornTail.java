// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

/** Bytes left by a crash during an append: where they begin in their file, how many, and their SHA-256 in hex. */
public record TornTail(long offset, long length, String sha256) {}

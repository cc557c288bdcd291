// SPDX-License-Identifier: Apache-2.0
/** The kernel's small files: read again and again without being opened anew, and made into values. */
package dev.loadwitness.agent.sensor.linux.file;

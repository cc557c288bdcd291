// SPDX-License-Identifier: Apache-2.0
/** Evidence on Linux: the journal, wtmp, pstore, the kernel's log, watchdogs. Every read is bounded in bytes and time. */
package dev.loadwitness.agent.evidence.linux;

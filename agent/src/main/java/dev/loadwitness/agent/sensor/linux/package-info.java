// SPDX-License-Identifier: Apache-2.0
/** Readings from the Linux kernel's own files, kept open; the only package that touches sysfs and procfs for readings. */
package dev.loadwitness.agent.sensor.linux;

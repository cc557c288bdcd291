// SPDX-License-Identifier: Apache-2.0
/** What OSHI knows: who the machine is, and readings where the system's own files give none. The only user of OSHI. */
package dev.loadwitness.agent.sensor.common;

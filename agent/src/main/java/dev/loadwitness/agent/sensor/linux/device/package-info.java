// SPDX-License-Identifier: Apache-2.0
/** Which devices are on their buses, and which of them came or went. */
package dev.loadwitness.agent.sensor.linux.device;

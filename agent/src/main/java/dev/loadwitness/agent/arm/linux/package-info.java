// SPDX-License-Identifier: Apache-2.0
/** Arming by a systemd unit and a copy of the program that only root can change. */
package dev.loadwitness.agent.arm.linux;

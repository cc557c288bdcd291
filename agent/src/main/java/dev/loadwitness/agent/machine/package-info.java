// SPDX-License-Identifier: Apache-2.0
/** The only place that names concrete sensors and the evidence of this machine. */
package dev.loadwitness.agent.machine;

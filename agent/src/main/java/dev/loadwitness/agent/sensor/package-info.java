// SPDX-License-Identifier: Apache-2.0
/** The sensor port, and the bank that reads all sources in time. */
package dev.loadwitness.agent.sensor;

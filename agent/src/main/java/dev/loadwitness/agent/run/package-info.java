// SPDX-License-Identifier: Apache-2.0
/** The step that turns "this is due" into records; stages; safety ceilings; the watch over clocks and stalls. */
package dev.loadwitness.agent.run;

// SPDX-License-Identifier: Apache-2.0
/** How a boot of Windows ended, from its system event log. The only code of the agent that asks that log. */
package dev.loadwitness.agent.evidence.windows;

// SPDX-License-Identifier: Apache-2.0
/** How this program is started again after a restart of Windows: a scheduled task; never run on one. */
package dev.loadwitness.agent.arm.windows;

// SPDX-License-Identifier: Apache-2.0
/** How this program would be started again after a restart of Windows: texts and command lines; never run on one. */
package dev.loadwitness.agent.arm.windows;

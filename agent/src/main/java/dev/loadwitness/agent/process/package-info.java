// SPDX-License-Identifier: Apache-2.0
/** How this program starts further processes of itself. */
package dev.loadwitness.agent.process;

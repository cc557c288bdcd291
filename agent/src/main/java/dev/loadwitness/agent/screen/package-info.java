// SPDX-License-Identifier: Apache-2.0
/** What is shown while a run goes on, said before it and asked. */
package dev.loadwitness.agent.screen;

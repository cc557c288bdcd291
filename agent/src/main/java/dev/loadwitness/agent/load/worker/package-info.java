// SPDX-License-Identifier: Apache-2.0
/** What a load is to the process that it runs in, whatever it loads. */
package dev.loadwitness.agent.load.worker;

// SPDX-License-Identifier: Apache-2.0
/** Which device a load runs on, and that load as a run sees it. */
package dev.loadwitness.agent.work;

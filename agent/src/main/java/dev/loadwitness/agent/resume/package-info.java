// SPDX-License-Identifier: Apache-2.0
/** What an unfinished log says about where its run stood, and what is to become of it. */
package dev.loadwitness.agent.resume;

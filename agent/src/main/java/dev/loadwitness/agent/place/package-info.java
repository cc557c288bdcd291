// SPDX-License-Identifier: Apache-2.0
/** Where procedures and logs lie, and what the disk there can promise. */
package dev.loadwitness.agent.place;

// SPDX-License-Identifier: Apache-2.0
/** The technician's own facts about ticket, machine, repair, rails and hand checks. */
package dev.loadwitness.runlog.jobsheet;

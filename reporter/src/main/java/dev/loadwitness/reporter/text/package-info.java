/** The verdict for a terminal and for programs: two more layouts of the same decision. */
package dev.loadwitness.reporter.text;

/** The report on paper: one layout of a verdict, finished by a signature elsewhere. The only user of OpenPDF. */
package dev.loadwitness.reporter.pdf;

// SPDX-License-Identifier: Apache-2.0
/** What a page is made of: typefaces, colours, blocks, words, the frame; and what a file for keeping must hold. */
package dev.loadwitness.reporter.pdf.paper;

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.signature;

import java.util.List;
import java.util.Map;

/** What may stand in a PDF, as far as this program writes it. */
sealed interface PdfValue {
    record Dictionary(Map<String, PdfValue> entries) implements PdfValue {}

    record Array(List<PdfValue> values) implements PdfValue {}

    record Name(String name) implements PdfValue {}

    /** The string's bytes, one a character. */
    record Text(String latin1) implements PdfValue {}

    record Whole(long value) implements PdfValue {}

    record Reference(int number) implements PdfValue {}

    /** Something that is stepped over: a fraction, true, false, null. */
    record Other(String written) implements PdfValue {}
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.paper;

import com.lowagie.text.PageSize;
import com.lowagie.text.Rectangle;
import dev.loadwitness.runlog.Word;

/** The paper that a report is laid out for. */
public enum Paper implements Word {
    A4(PageSize.A4),
    LETTER(PageSize.LETTER);

    public final Rectangle size;

    Paper(Rectangle size) {
        this.size = size;
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.paper;

import com.lowagie.text.Image;
import com.lowagie.text.pdf.BarcodeDatamatrix;
import com.lowagie.text.pdf.PdfContentByte;
import com.lowagie.text.pdf.PdfTemplate;
import java.awt.Color;
import java.nio.charset.StandardCharsets;
import java.util.List;
import java.util.stream.Collectors;

/**
 * The log's digests as a Data Matrix (ISO/IEC 16022), so that nobody has to type 64 digits: one line {@code SHA-256 …} for
 * each part of the log. Drawn as areas, not as a picture, so that it is sharp at every size.
 */
public final class DigestCode {
    /** More do not fit into a code that can be read from paper; the rest is printed only. */
    private static final int PARTS_MOST = 6;
    /** The standard asks for a quiet zone of one module. */
    private static final int QUIET = 1;

    private DigestCode() {}

    static String content(List<String> digests) {
        return digests.stream().limit(PARTS_MOST).map(d -> "SHA-256 " + d).collect(Collectors.joining("\n"));
    }

    public static Image of(PdfContentByte canvas, List<String> digests, float size) {
        BarcodeDatamatrix code = new BarcodeDatamatrix();
        byte[] content = content(digests).getBytes(StandardCharsets.US_ASCII);
        int status = code.generate(content, 0, content.length);
        if (status != BarcodeDatamatrix.DM_NO_ERROR) {
            throw new IllegalStateException("no Data Matrix for " + content.length + " bytes: " + status);
        }
        byte[] bits = code.getImage();
        int modules = code.getWidth();
        int stride = (modules + 7) / 8;
        float module = size / (modules + 2 * QUIET);
        PdfTemplate t = canvas.createTemplate(size, size);
        t.setColorFill(Color.BLACK);
        for (int y = 0; y < code.getHeight(); y++) {
            int run = 0;
            for (int x = 0; x <= modules; x++) {
                boolean dark = x < modules && (bits[y * stride + x / 8] & (0x80 >> (x & 7))) != 0;
                if (dark) {
                    run++;
                } else if (run > 0) {
                    // A whole run at once, a little too high: no hairlines between modules.
                    t.rectangle(
                            (QUIET + x - run) * module,
                            size - (QUIET + y + 1) * module - 0.02f,
                            run * module,
                            module + 0.04f);
                    run = 0;
                }
            }
        }
        t.fill();
        return Image.getInstance(t);
    }
}

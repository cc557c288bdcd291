// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import java.io.IOException;
import java.io.InputStream;
import java.io.UncheckedIOException;
import java.nio.charset.StandardCharsets;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.util.Base64;
import java.util.List;

/** What goes into every page as it is: our script and style, and the charting library with its licence. */
final class Assets {
    /** Files of the published package, unchanged: docs/libraries.md says which. */
    private static final String LIBRARY = "uplot/";

    private Assets() {}

    static String libraryScript() {
        return inline(LIBRARY + "uPlot.iife.min.js", "</script", "<!--");
    }

    static String libraryStyle() {
        return inline(LIBRARY + "uPlot.min.css", "</style", "<!--");
    }

    static List<String> libraryLicence() {
        return read(LIBRARY + "LICENSE").lines().toList();
    }

    static String script() {
        return inline("review.js", "</script", "<!--");
    }

    static String style() {
        return inline("review.css", "</style", "<!--");
    }

    /** The source expression by which a content security policy allows exactly this text (CSP Level 3, section 2.3.1). */
    static String hash(String text) {
        try {
            byte[] digest = MessageDigest.getInstance("SHA-256").digest(text.getBytes(StandardCharsets.UTF_8));
            return "'sha256-" + Base64.getEncoder().encodeToString(digest) + "'";
        } catch (NoSuchAlgorithmException e) {
            throw new IllegalStateException(e); // every Java has it
        }
    }

    /** A text that would end its own element early must not be put into one. */
    private static String inline(String name, String... forbidden) {
        String text = read(name);
        for (String f : forbidden) {
            if (text.contains(f)) {
                throw new IllegalStateException(name + " holds '" + f + "' and cannot stand inside a page");
            }
        }
        return text;
    }

    private static String read(String name) {
        try (InputStream in = Assets.class.getResourceAsStream(name)) {
            if (in == null) {
                throw new IllegalStateException(name + " is missing from this program");
            }
            return new String(in.readAllBytes(), StandardCharsets.UTF_8);
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }
}

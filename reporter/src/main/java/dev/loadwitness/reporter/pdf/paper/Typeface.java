// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.paper;

import com.lowagie.text.Font;
import com.lowagie.text.pdf.BaseFont;
import com.lowagie.text.pdf.FontMapper;
import dev.loadwitness.runlog.Shown;
import dev.loadwitness.runlog.disk.Folder;
import dev.loadwitness.runlog.disk.NewFile;
import java.awt.Color;
import java.awt.FontFormatException;
import java.awt.font.FontRenderContext;
import java.io.ByteArrayInputStream;
import java.io.IOException;
import java.io.InputStream;
import java.io.UncheckedIOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.security.SecureRandom;
import java.util.List;
import java.util.Locale;
import java.util.Set;
import java.util.TreeSet;
import java.util.UUID;
import java.util.stream.Collectors;

/**
 * The embedded fonts, the same for pages and charts. No font of the system is ever asked for, so that the report is the
 * same everywhere, also where there are no fonts. One instance for one document.
 */
public final class Typeface {
    private static final byte[] REGULAR = load("LiberationSans-Regular.ttf");
    private static final byte[] BOLD = load("LiberationSans-Bold.ttf");
    private static final byte[] MONO = load("LiberationMono-Regular.ttf");
    private static final java.awt.Font CHART_REGULAR;
    private static final java.awt.Font CHART_BOLD;
    private static final String NO_FONTS = "version=1\nsequence.allfonts=default\n";
    /** Stands for a character that the fonts lack: a hollow square, so that the gap is seen. */
    private static final int MISSING = 0x25A1;

    static {
        startAwtWithoutSystemFonts();
        CHART_REGULAR = awt(REGULAR);
        CHART_BOLD = awt(BOLD);
    }

    /** Code points that were asked for and are not in the fonts, in order. */
    private final Set<Integer> missing = new TreeSet<>();

    public final BaseFont regular = embed("LiberationSans-Regular.ttf", REGULAR, 1);
    public final BaseFont bold = embed("LiberationSans-Bold.ttf", BOLD, 2);
    final BaseFont mono = embed("LiberationMono-Regular.ttf", MONO, 3);

    public Font regular(float size, Color color) {
        return new Font(regular, size, Font.NORMAL, color);
    }

    public Font bold(float size, Color color) {
        return new Font(bold, size, Font.NORMAL, color);
    }

    public Font mono(float size, Color color) {
        return new Font(mono, size, Font.NORMAL, color);
    }

    public java.awt.Font chart(float size) {
        return CHART_REGULAR.deriveFont(size);
    }

    public java.awt.Font chartBold(float size) {
        return CHART_BOLD.deriveFont(size);
    }

    /** Maps the charts' fonts to the embedded ones, so that text in charts stays text. */
    public FontMapper mapper() {
        return new FontMapper() {
            @Override
            public BaseFont awtToPdf(java.awt.Font font) {
                return font.getFontName(Locale.ROOT).endsWith("Bold") ? bold : regular;
            }

            @Override
            public java.awt.Font pdfToAwt(BaseFont font, int size) {
                return font == bold ? chartBold(size) : chart(size);
            }
        };
    }

    /** The text with line ends kept, what cannot be seen named, and what the fonts lack shown as squares. */
    public String clean(String text) {
        StringBuilder out = new StringBuilder(text.length());
        text.lines()
                .map(Shown::line)
                .collect(Collectors.joining("\n", "", text.endsWith("\n") ? "\n" : ""))
                .codePoints()
                .forEach(c -> {
                    if (c == '\n') {
                        out.append('\n');
                    } else if (Character.isSpaceChar(c)) {
                        out.append(c == 0xA0 ? '\u00A0' : ' ');
                    } else {
                        boolean there =
                                c == MISSING || (regular.charExists(c) && bold.charExists(c) && mono.charExists(c));
                        if (!there) {
                            missing.add(c);
                        }
                        out.appendCodePoint(there ? c : MISSING);
                    }
                });
        return out.toString();
    }

    public List<Integer> missing() {
        return List.copyOf(missing);
    }

    /** {@code U+96FB U+6E90}; of many, the first few. */
    public static String named(List<Integer> codePoints) {
        int most = 8;
        return codePoints.stream()
                        .limit(most)
                        .map(c -> String.format(Locale.ROOT, "U+%04X", c))
                        .collect(Collectors.joining(" "))
                + (codePoints.size() > most ? " …" : "");
    }

    private static BaseFont embed(String name, byte[] bytes, int seed) {
        try {
            BaseFont font = BaseFont.createFont(name, BaseFont.IDENTITY_H, BaseFont.EMBEDDED, false, bytes, null);
            font.setIncludeCidSet(false); // PDF/A asks for a complete one or none
            font.setSecureRandom(new Repeating(seed));
            return font;
        } catch (IOException e) {
            throw new UncheckedIOException("embedded font " + name, e);
        }
    }

    private static java.awt.Font awt(byte[] bytes) {
        try {
            java.awt.Font font = java.awt.Font.createFont(java.awt.Font.TRUETYPE_FONT, new ByteArrayInputStream(bytes));
            font.getStringBounds("0", new FontRenderContext(null, true, true));
            return font;
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        } catch (FontFormatException e) {
            throw new IllegalStateException(e);
        }
    }

    private static byte[] load(String name) {
        try (InputStream in = Typeface.class.getResourceAsStream("/liberation/" + name)) {
            if (in == null) {
                throw new IllegalStateException("font " + name + " is not in the program's jar");
            }
            return in.readAllBytes();
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    /**
     * AWT looks for the system's fonts when it starts and fails where there are none, even if only fonts of our own are
     * used. An empty font configuration, read once at its start, keeps it from looking.
     */
    private static void startAwtWithoutSystemFonts() {
        if (System.getProperty("java.awt.headless") == null) {
            System.setProperty("java.awt.headless", "true");
        }
        boolean linux = System.getProperty("os.name", "").startsWith("Linux");
        if (!linux || System.getProperty("sun.awt.fontconfig") != null) {
            return;
        }
        Path configuration =
                Path.of(System.getProperty("java.io.tmpdir"), "loadwitness-fonts-" + UUID.randomUUID() + ".properties");
        try {
            // AWT takes it from a file only, and cannot do with an empty one such as /dev/null.
            NewFile.at(configuration).write(NO_FONTS.getBytes(StandardCharsets.ISO_8859_1));
            try {
                System.setProperty("sun.awt.fontconfig", configuration.toString());
                awt(REGULAR);
            } finally {
                System.clearProperty("sun.awt.fontconfig");
                Folder.of(configuration).delete(configuration.getFileName().toString());
            }
        } catch (IOException e) {
            throw new UncheckedIOException("cannot write a small file to the temporary folder", e);
        }
    }

    /** Subset names are drawn from a random source; ours repeats, so that the same report has the same bytes. */
    private static final class Repeating extends SecureRandom {
        private int state;

        Repeating(int seed) {
            state = seed;
        }

        @Override
        public void nextBytes(byte[] bytes) {
            for (int i = 0; i < bytes.length; i++) {
                bytes[i] = (byte) next();
            }
        }

        @Override
        public int nextInt(int bound) {
            return Math.floorMod(next(), bound);
        }

        @Override
        public double nextDouble() {
            return (next() & 0xFFFFFF) / (double) (1 << 24);
        }

        private int next() {
            state = state * 1103515245 + 12345;
            return state >>> 8;
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import java.awt.image.BufferedImage;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import javax.imageio.ImageIO;

/** Reads a PDF with Poppler's tools, a reader that shares no code with the writer. A missing tool fails the test. */
public final class Poppler {
    private static final Pattern PAGE = Pattern.compile("<page width=\"([0-9.]+)\" height=\"([0-9.]+)\">");
    private static final Pattern WORD = Pattern.compile(
            "<word xMin=\"([-0-9.]+)\" yMin=\"([-0-9.]+)\" xMax=\"([-0-9.]+)\" yMax=\"([-0-9.]+)\">(.*)</word>");

    private final Path file;

    public Poppler(Path folder, byte[] pdf) {
        try {
            file = Files.createTempFile(folder, "report", ".pdf");
            Files.write(file, pdf);
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    int pages() {
        Matcher pages = Pattern.compile("Pages: +([0-9]+)").matcher(run("pdfinfo", file.toString()));
        if (!pages.find()) {
            throw new IllegalStateException("pdfinfo names no number of pages");
        }
        return Integer.parseInt(pages.group(1));
    }

    String info() {
        return run("pdfinfo", file.toString());
    }

    /** Text in the order in which it was written, without any white space. */
    public String text() {
        return packed(run("pdftotext", "-raw", file.toString(), "-"));
    }

    public String text(int page) {
        String number = Integer.toString(page);
        return packed(run("pdftotext", "-raw", "-f", number, "-l", number, file.toString(), "-"));
    }

    /** One line for each font: name and whether it is embedded. */
    List<String> fonts() {
        return run("pdffonts", file.toString()).lines().skip(2).toList();
    }

    List<Word> words() {
        List<Word> words = new ArrayList<>();
        int page = 0;
        double width = 0;
        double height = 0;
        for (String line :
                run("pdftotext", "-bbox", file.toString(), "-").lines().toList()) {
            Matcher start = PAGE.matcher(line);
            Matcher word = WORD.matcher(line);
            if (start.find()) {
                page++;
                width = Double.parseDouble(start.group(1));
                height = Double.parseDouble(start.group(2));
            } else if (word.find()) {
                words.add(new Word(
                        page,
                        Double.parseDouble(word.group(1)),
                        Double.parseDouble(word.group(2)),
                        Double.parseDouble(word.group(3)),
                        Double.parseDouble(word.group(4)),
                        word.group(5),
                        width,
                        height));
            }
        }
        return words;
    }

    /** Draws every page, and fails on anything that the tool complains about. */
    void draw(Path folder) {
        String complaints = run(
                "pdftoppm",
                "-r",
                "40",
                "-gray",
                file.toString(),
                folder.resolve("page").toString());
        if (!complaints.isBlank()) {
            throw new IllegalStateException("pdftoppm: " + complaints);
        }
    }

    public Path path() {
        return file;
    }

    /** A page as a printer of 200 dots an inch would see it. */
    BufferedImage image(Path folder, int page) {
        String number = Integer.toString(page);
        Path to = folder.resolve("image-" + page);
        run("pdftoppm", "-r", "200", "-png", "-singlefile", "-f", number, "-l", number, file.toString(), to.toString());
        try {
            return ImageIO.read(Path.of(to + ".png").toFile());
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    byte[] embedded(Path folder, int number) {
        Path to = folder.resolve("embedded-" + number);
        run("pdfdetach", "-save", Integer.toString(number), "-o", to.toString(), file.toString());
        try {
            return Files.readAllBytes(to);
        } catch (IOException e) {
            throw new UncheckedIOException(e);
        }
    }

    public static String packed(String text) {
        return text.replaceAll("[\\s\\u00A0\\f]", "");
    }

    public static String run(String... command) {
        try {
            Process process =
                    new ProcessBuilder(command).redirectErrorStream(true).start();
            process.getOutputStream().close();
            String out = new String(process.getInputStream().readAllBytes(), StandardCharsets.UTF_8);
            int status = process.waitFor();
            if (status != 0) {
                throw new IllegalStateException(String.join(" ", command) + " ended with " + status + ": " + out);
            }
            return out;
        } catch (IOException e) {
            throw new UncheckedIOException(command[0] + " is needed (package poppler-utils)", e);
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
            throw new IllegalStateException(e);
        }
    }

    /** A word and its box, in points from the page's top left. */
    record Word(
            int page, double left, double top, double right, double bottom, String text, double width, double height) {
        boolean overlaps(Word other) {
            double across = Math.min(right, other.right) - Math.max(left, other.left);
            double down = Math.min(bottom, other.bottom) - Math.max(top, other.top);
            // Boxes have the font's full height, more than its letters: lines of tight tables touch by a little.
            return page == other.page && across > 0.6 && down > 0.1 * Math.min(bottom - top, other.bottom - other.top);
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.yaml;

import com.fasterxml.jackson.core.JacksonException;
import com.fasterxml.jackson.core.JsonLocation;
import com.fasterxml.jackson.core.JsonToken;
import com.fasterxml.jackson.dataformat.yaml.YAMLFactory;
import com.fasterxml.jackson.dataformat.yaml.YAMLParser;
import java.io.IOException;
import java.io.UncheckedIOException;
import java.nio.charset.StandardCharsets;
import java.util.ArrayList;
import java.util.List;
import java.util.Optional;
import org.yaml.snakeyaml.error.Mark;
import org.yaml.snakeyaml.error.MarkedYAMLException;

/**
 * Reads the part of YAML that our files use: mappings, lists, single values. Anchors, aliases and tags are refused, so
 * that a short file cannot unfold into a huge one; so are deep nesting and long files.
 */
final class YamlTree {
    static final int BYTES_MAX = 1 << 20;
    static final int DEPTH_MAX = 8;

    private final YAMLParser parser;

    private YamlTree(YAMLParser parser) {
        this.parser = parser;
    }

    /**
     * The whole text as a tree.
     *
     * @throws Refused for the first fault, which stops reading
     */
    static Located read(String text) throws Refused {
        String plain = text.startsWith("\uFEFF") ? text.substring(1) : text;
        refuseLength(plain);
        refuseUnprintable(plain);
        try (YAMLParser parser = new YAMLFactory().createParser(plain)) {
            return new YamlTree(parser).document();
        } catch (JacksonException e) {
            throw new Refused(syntax(e));
        } catch (IOException e) {
            throw new UncheckedIOException("reading from a string cannot fail", e);
        }
    }

    private static void refuseLength(String text) throws Refused {
        // Counted in characters first: a text of gigabytes need not be copied to be refused.
        if (text.length() > BYTES_MAX || text.getBytes(StandardCharsets.UTF_8).length > BYTES_MAX) {
            throw new Refused(1, 1, "the file is longer than 1 MiB; is it the right file?");
        }
    }

    private static void refuseUnprintable(String text) throws Refused {
        int line = 1;
        int column = 1;
        for (int i = 0; i < text.length(); ) {
            int c = text.codePointAt(i);
            i += Character.charCount(c);
            if (c == '\n') {
                line++;
                column = 1;
                continue;
            }
            if (!printable(c)) {
                throw new Refused(
                        line,
                        column,
                        "a character that no text holds (code " + Integer.toHexString(c)
                                + "); take it out, and save the file as plain text in UTF-8");
            }
            column++;
        }
    }

    /** YAML 1.1, production c-printable. */
    private static boolean printable(int c) {
        return c == '\t'
                || c == '\r'
                || (c >= 0x20 && c <= 0x7E)
                || c == 0x85
                || (c >= 0xA0 && c <= 0xD7FF)
                || (c >= 0xE000 && c <= 0xFFFD && c != 0xFEFF)
                || c >= 0x10000;
    }

    private Located document() throws IOException, Refused {
        JsonToken first = parser.nextToken();
        if (first == null) {
            throw new Refused(1, 1, "the file is empty; begin with a copy of a file that works");
        }
        Located root = value(first, 1);
        if (parser.nextToken() != null) {
            throw refused("a second document begins here; keep one in each file and take the line '---' out");
        }
        return root;
    }

    private Located value(JsonToken token, int depth) throws IOException, Refused {
        refuseDecoration();
        JsonLocation at = parser.currentTokenLocation();
        if (token == JsonToken.START_OBJECT) {
            refuseDepth(depth);
            List<Located.Field> fields = new ArrayList<>();
            while (parser.nextToken() != JsonToken.END_OBJECT) {
                refuseDecoration();
                Located.Text key = text(parser.currentTokenLocation(), parser.currentName());
                fields.add(new Located.Field(key, value(parser.nextToken(), depth + 1)));
            }
            return new Located.Fields(at.getLineNr(), at.getColumnNr(), fields);
        }
        if (token == JsonToken.START_ARRAY) {
            refuseDepth(depth);
            List<Located> items = new ArrayList<>();
            for (JsonToken next = parser.nextToken(); next != JsonToken.END_ARRAY; next = parser.nextToken()) {
                items.add(value(next, depth + 1));
            }
            return new Located.Items(at.getLineNr(), at.getColumnNr(), items);
        }
        return text(at, parser.getText());
    }

    private static Located.Text text(JsonLocation at, String value) {
        return new Located.Text(at.getLineNr(), at.getColumnNr(), value == null ? "" : value);
    }

    private void refuseDepth(int depth) throws Refused {
        if (depth > DEPTH_MAX) {
            throw refused("nested deeper than " + DEPTH_MAX + " levels; no key of ours goes that deep");
        }
    }

    private void refuseDecoration() throws IOException, Refused {
        if (parser.isCurrentAlias()) {
            throw refused("aliases (*name) are not read; write the value out, or put it in quotes if it is text");
        }
        if (parser.getObjectId() != null) {
            throw refused("anchors (&name) are not read; take it out, or put the value in quotes if it is text");
        }
        if (parser.getTypeId() != null) {
            throw refused("tags (!name) are not read; take it out, or put the value in quotes if it is text");
        }
    }

    private Refused refused(String text) {
        JsonLocation at = parser.currentTokenLocation();
        return new Refused(at.getLineNr(), at.getColumnNr(), text);
    }

    private static Problem syntax(JacksonException e) {
        Optional<MarkedYAMLException> marked = marked(e);
        Optional<Mark> mark = marked.map(MarkedYAMLException::getProblemMark);
        JsonLocation at = e.getLocation();
        int line = mark.map(m -> m.getLine() + 1).orElse(at == null ? 1 : Math.max(1, at.getLineNr()));
        int column = mark.map(m -> m.getColumn() + 1).orElse(at == null ? 1 : Math.max(1, at.getColumnNr()));
        String said = marked.map(MarkedYAMLException::getProblem)
                .filter(p -> !p.isBlank())
                // The parser's own words for this name its classes, which say nothing to a technician.
                .orElseGet(() -> String.valueOf(e.getOriginalMessage()).startsWith("Expected a field name")
                        ? "a key must be a plain word"
                        : String.valueOf(e.getOriginalMessage()));
        return new Problem(
                line,
                column,
                "not readable as YAML (" + Reading.shown(said, 160)
                        + "); check colons, quotes, brackets, and that lines are indented with spaces");
    }

    private static Optional<MarkedYAMLException> marked(Throwable e) {
        for (Throwable cause = e.getCause(); cause != null; cause = cause.getCause()) {
            if (cause instanceof MarkedYAMLException found) {
                return Optional.of(found);
            }
        }
        return Optional.empty();
    }

    /** The text cannot be taken as a tree; says where reading stopped. */
    static final class Refused extends Exception {
        private static final long serialVersionUID = 1;

        private final transient Problem problem;

        Refused(Problem problem) {
            super(problem.text());
            this.problem = problem;
        }

        Refused(int line, int column, String text) {
            this(new Problem(line, column, text));
        }

        Problem problem() {
            return problem;
        }
    }
}

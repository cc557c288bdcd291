// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.line;

import com.fasterxml.jackson.core.JsonFactory;
import com.fasterxml.jackson.core.JsonFactoryBuilder;
import com.fasterxml.jackson.core.JsonParser;
import com.fasterxml.jackson.core.JsonToken;
import com.fasterxml.jackson.core.StreamReadConstraints;
import java.io.ByteArrayInputStream;
import java.io.IOException;
import java.nio.ByteBuffer;
import java.nio.charset.CharacterCodingException;
import java.nio.charset.StandardCharsets;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import org.jspecify.annotations.Nullable;

/**
 * One line as a tree of {@link Map}, {@link List}, {@link String}, {@link Boolean}, {@link Digits} and {@link #NULL}.
 *
 * <p>What is wrong with a line is named in a fixed order whatever stands first in it (NUL, encoding, depth, count of values, syntax,
 * duplicate key, absurd number), so that readers in other languages name it alike. Jackson alone would stop at the
 * first, wherever that is; so its own limits are wide here and ours are checked beside it.
 */
public final class JsonTree {
    static final Object NULL = new Object();

    private static final int WIDE = 2 * Format.MAX_HEADER;
    private static final JsonFactory JSON = new JsonFactoryBuilder()
            // A hostile log with millions of different names must not fill a symbol table.
            .disable(JsonFactory.Feature.CANONICALIZE_FIELD_NAMES)
            .disable(JsonFactory.Feature.INTERN_FIELD_NAMES)
            .streamReadConstraints(StreamReadConstraints.builder()
                    .maxNestingDepth(2 * Format.MAX_DEPTH)
                    .maxNumberLength(WIDE)
                    .maxStringLength(WIDE)
                    .maxNameLength(WIDE)
                    .build())
            .build();

    /** A number as its digits stand in the file. */
    record Digits(String text) {
        boolean isInteger() {
            return text.indexOf('.') < 0 && text.indexOf('e') < 0 && text.indexOf('E') < 0;
        }

        double value() {
            return Double.parseDouble(text);
        }
    }

    private @Nullable String duplicate;
    private @Nullable String absurd;

    private JsonTree() {}

    /** The object in {@code from..to}. */
    public static Map<String, Object> parse(byte[] bytes, int from, int to) throws Fault {
        checkBytes(bytes, from, to);
        checkSize(bytes, from, to);
        JsonTree tree = new JsonTree();
        Object root;
        // As a stream: given an array and a place in it, this Jackson reads on behind the end of a line of many
        // thousand bytes.
        try (JsonParser parser = JSON.createParser(new ByteArrayInputStream(bytes, from, to - from))) {
            root = tree.value(parser, parser.nextToken());
            if (parser.nextToken() != null) {
                throw new Fault(Damage.Kind.MALFORMED, "more follows after the record's closing brace");
            }
        } catch (IOException e) {
            throw new Fault(Damage.Kind.MALFORMED, "not JSON");
        }
        if (!(root instanceof Map<?, ?>)) {
            throw new Fault(Damage.Kind.MALFORMED, "not a JSON object");
        }
        if (tree.duplicate != null) {
            throw new Fault(Damage.Kind.DUPLICATE_KEY, "member '" + shortened(tree.duplicate) + "' stands twice");
        }
        if (tree.absurd != null) {
            throw new Fault(Damage.Kind.ABSURD_NUMBER, "the number " + shortened(tree.absurd) + " is absurd");
        }
        return object(root);
    }

    @SuppressWarnings("unchecked") // value() makes no other maps
    static Map<String, Object> object(Object tree) {
        return (Map<String, Object>) tree;
    }

    public static void checkBytes(byte[] bytes, int from, int to) throws Fault {
        boolean ascii = true;
        for (int i = from; i < to; i++) {
            if (bytes[i] == 0) {
                throw new Fault(Damage.Kind.NUL_BYTES, "holds NUL bytes");
            }
            ascii &= bytes[i] > 0;
        }
        if (ascii) {
            return;
        }
        if (to - from >= 3
                && bytes[from] == (byte) 0xEF
                && bytes[from + 1] == (byte) 0xBB
                && bytes[from + 2] == (byte) 0xBF) {
            throw new Fault(Damage.Kind.ENCODING, "begins with a byte order mark");
        }
        try {
            StandardCharsets.UTF_8.newDecoder().decode(ByteBuffer.wrap(bytes, from, to - from));
        } catch (CharacterCodingException e) {
            throw new Fault(Damage.Kind.ENCODING, "not UTF-8");
        }
    }

    private static void checkSize(byte[] bytes, int from, int to) throws Fault {
        int depth = 0;
        int commas = 0;
        boolean text = false;
        for (int i = from; i < to; i++) {
            byte b = bytes[i];
            if (text) {
                if (b == '\\') {
                    i++;
                } else if (b == '"') {
                    text = false;
                }
            } else if (b == '"') {
                text = true;
            } else if (b == '{' || b == '[') {
                depth++;
                if (depth > Format.MAX_DEPTH) {
                    throw new Fault(Damage.Kind.TOO_DEEP, "nested deeper than " + Format.MAX_DEPTH);
                }
            } else if (b == '}' || b == ']') {
                depth--;
            } else if (b == ',') {
                commas++;
            }
        }
        if (commas > Format.MAX_COMMAS) {
            throw new Fault(Damage.Kind.TOO_LONG, "holds more than " + Format.MAX_COMMAS + " values");
        }
    }

    private Object value(JsonParser parser, JsonToken token) throws IOException, Fault {
        if (token == null) {
            throw new Fault(Damage.Kind.MALFORMED, "not JSON");
        }
        return switch (token) {
            case START_OBJECT -> members(parser);
            case START_ARRAY -> elements(parser);
            case VALUE_STRING -> parser.getText();
            case VALUE_NUMBER_INT, VALUE_NUMBER_FLOAT -> number(parser.getText());
            case VALUE_TRUE -> true;
            case VALUE_FALSE -> false;
            case VALUE_NULL -> NULL;
            default -> throw new Fault(Damage.Kind.MALFORMED, "not JSON");
        };
    }

    private Map<String, Object> members(JsonParser parser) throws IOException, Fault {
        Map<String, Object> members = new LinkedHashMap<>();
        while (parser.nextToken() != JsonToken.END_OBJECT) {
            String name = parser.currentName();
            if (members.put(name, value(parser, parser.nextToken())) != null && duplicate == null) {
                duplicate = name;
            }
        }
        return members;
    }

    private List<Object> elements(JsonParser parser) throws IOException, Fault {
        List<Object> elements = new ArrayList<>();
        for (JsonToken next = parser.nextToken(); next != JsonToken.END_ARRAY; next = parser.nextToken()) {
            elements.add(value(parser, next));
        }
        return elements;
    }

    private Digits number(String text) {
        Digits digits = new Digits(text);
        if (absurd == null && isAbsurd(digits)) {
            absurd = text;
        }
        return digits;
    }

    private static boolean isAbsurd(Digits number) {
        String text = number.text();
        if (text.chars().filter(c -> c >= '0' && c <= '9').count() > Format.MAX_DIGITS) {
            return true;
        }
        if (!number.isInteger()) {
            return !Double.isFinite(number.value());
        }
        try {
            Long.parseLong(text);
            return false;
        } catch (NumberFormatException e) {
            return true;
        }
    }

    private static String shortened(String text) {
        return text.length() <= 50 ? text : text.substring(0, 50) + "…";
    }
}

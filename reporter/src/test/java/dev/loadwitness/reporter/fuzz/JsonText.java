// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.fuzz;

import java.util.ArrayList;
import java.util.List;

/**
 * One object of JSON as text, with the places of its members and values: a change keeps everything else as it stands, and may
 * put in what no tree could hold, a member twice or a number beyond all bounds.
 */
final class JsonText {
    /** A value, the member or element that it is, and its key; no key for an element. */
    record Part(int from, int to, int memberFrom, String key) {
        boolean isMember() {
            return !key.isEmpty();
        }
    }

    private final String text;
    private final List<Part> parts = new ArrayList<>();
    private int at;

    /** @param text whole JSON, as we write it; may lack its last brace */
    JsonText(String text) {
        this.text = text;
        value(0, "");
    }

    List<Part> parts() {
        return parts;
    }

    String of(Part part) {
        return text.substring(part.from, part.to);
    }

    String with(Part part, String value) {
        return text.substring(0, part.from) + value + text.substring(part.to);
    }

    /** Without the member or element, and one of the commas beside it. */
    String without(Part part) {
        int from = part.memberFrom;
        int to = part.to;
        if (to < text.length() && text.charAt(to) == ',') {
            to++;
        } else if (from > 0 && text.charAt(from - 1) == ',') {
            from--;
        }
        return text.substring(0, from) + text.substring(to);
    }

    String twice(Part part) {
        String member = text.substring(part.memberFrom, part.to);
        return text.substring(0, part.to) + "," + member + text.substring(part.to);
    }

    String renamed(Part part, String key) {
        return text.substring(0, part.memberFrom) + '"' + key + "\":" + text.substring(part.from);
    }

    private char next() {
        return at < text.length() ? text.charAt(at) : 0;
    }

    private void value(int memberFrom, String key) {
        int from = at;
        int place = parts.size();
        char c = next();
        if (c == '{' || c == '[') {
            char end = c == '{' ? '}' : ']';
            at++;
            while (at < text.length() && next() != end) {
                int begin = at;
                String name = "";
                if (c == '{') {
                    name = string();
                    at++; // colon
                }
                value(begin, name);
                if (next() == ',') {
                    at++;
                } else if (next() != end) {
                    at = text.length(); // changed before, and no JSON any more
                }
            }
            at = Math.min(text.length(), at + 1);
        } else if (c == '"') {
            string();
        } else {
            while (at < text.length() && ",]}".indexOf(next()) < 0) {
                at++;
            }
        }
        if (memberFrom > 0) {
            parts.add(place, new Part(from, at, memberFrom, key));
        }
    }

    private String string() {
        int from = at + 1;
        at++;
        while (at < text.length() && next() != '"') {
            at += next() == '\\' ? 2 : 1;
        }
        at = Math.min(text.length(), at + 1);
        return at > from ? text.substring(from, at - 1) : "";
    }
}

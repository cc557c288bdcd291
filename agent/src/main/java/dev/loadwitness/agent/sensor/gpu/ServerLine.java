// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import java.util.List;
import java.util.regex.Pattern;

/** One line of the server, taken apart. What this program's own server would not have written is refused. */
final class ServerLine {
    private static final Pattern NAME = Pattern.compile("[A-Za-z0-9][A-Za-z0-9 .:-]{0,99}");
    private static final int MOST_TEXT = 400;

    private final String line;
    private final String[] words;

    ServerLine(String line) {
        this.line = line;
        words = line.split("\t", -1);
    }

    static ServerLine last(List<String> lines) throws Refused {
        if (lines.isEmpty()) {
            throw new Refused("");
        }
        return new ServerLine(lines.get(lines.size() - 1));
    }

    static List<String> allButTheLast(List<String> lines) {
        return lines.subList(0, Math.max(0, lines.size() - 1));
    }

    String kind() {
        return words[0];
    }

    /** How many words there are after the kind. */
    int size() {
        return words.length - 1;
    }

    /** Itself, if there are so many words after the kind. */
    ServerLine with(int count) throws Refused {
        if (size() != count) {
            throw refused();
        }
        return this;
    }

    /** A word for a part or a reading; the first after the kind is number 1. */
    String name(int at) throws Refused {
        if (!NAME.matcher(words[at]).matches()) {
            throw refused();
        }
        return words[at];
    }

    /** A sentence for people. */
    String text(int at) throws Refused {
        if (words[at].length() > MOST_TEXT) {
            throw refused();
        }
        return words[at];
    }

    int code(int at) throws Refused {
        try {
            return Integer.parseInt(words[at]);
        } catch (NumberFormatException e) {
            throw refused();
        }
    }

    /** A finite number. */
    double number(int at) throws Refused {
        return number(words[at]);
    }

    double number(String word) throws Refused {
        double number;
        try {
            number = Double.parseDouble(word);
        } catch (NumberFormatException e) {
            throw refused();
        }
        if (!Double.isFinite(number)) {
            throw refused();
        }
        return number;
    }

    /** A finite number, NaN where there is none. */
    double reading(int at) throws Refused {
        return words[at].equals("-") ? Double.NaN : number(at);
    }

    Refused refused() {
        return new Refused(line);
    }
}

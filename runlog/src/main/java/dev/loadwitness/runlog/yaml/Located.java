// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.yaml;

import java.util.List;

/** A value of the file and where it begins; lines and columns count from 1. */
public sealed interface Located {
    int line();

    int column();

    /** Any single value. It stays text: what it means, and in which unit, is for the place where it stands to say. */
    record Text(int line, int column, String value) implements Located {}

    record Items(int line, int column, List<Located> items) implements Located {
        public Items {
            items = List.copyOf(items);
        }
    }

    record Fields(int line, int column, List<Field> fields) implements Located {
        public Fields {
            fields = List.copyOf(fields);
        }
    }

    record Field(Text key, Located value) {}
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import java.util.List;

/** A name and what is said of it. */
record Fact(String name, String value) {
    /** Those that say something. */
    static List<Fact> said(Fact... facts) {
        return List.of(facts).stream().filter(f -> !f.value().isBlank()).toList();
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf;

import static org.assertj.core.api.Assertions.assertThat;

import java.util.ArrayList;
import java.util.List;

/** What every laid-out page must hold to. */
public final class Layouts {
    private Layouts() {}

    public static void assertNothingClashes(Poppler pdf) {
        List<Poppler.Word> words = pdf.words().stream()
                // The stamp lies on everything by design.
                .filter(w -> w.bottom() - w.top() < 60)
                .toList();

        assertThat(words).hasSizeGreaterThan(300).allSatisfy(w -> {
            assertThat(w.left()).isGreaterThan(40);
            assertThat(w.top()).isGreaterThan(20);
            assertThat(w.right()).isLessThan(w.width() - 40);
            assertThat(w.bottom()).isLessThan(w.height() - 20);
        });
        List<String> clashes = new ArrayList<>();
        for (int i = 0; i < words.size(); i++) {
            for (int j = i + 1;
                    j < words.size() && words.get(j).page() == words.get(i).page();
                    j++) {
                if (words.get(i).overlaps(words.get(j))) {
                    clashes.add(words.get(i) + " and " + words.get(j));
                }
            }
        }
        assertThat(clashes).isEmpty();
    }
}

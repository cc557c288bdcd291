// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import static org.assertj.core.api.Assertions.assertThat;

import org.junit.jupiter.api.Test;

final class MarkupTest {
    @Test
    void markupInATextIsShownAndNotObeyed() {
        assertThat(Markup.escaped("<script>alert('x')</script> & \"quoted\""))
                .isEqualTo("&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt; &amp; &quot;quoted&quot;");
    }

    @Test
    void whatCannotBeSeenIsNamed() {
        assertThat(Markup.escaped("a\u202E<b>")).isEqualTo("a⟨U+202E⟩&lt;b&gt;");
    }
}

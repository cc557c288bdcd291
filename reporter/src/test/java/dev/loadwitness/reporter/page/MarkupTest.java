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
    void charactersThatHideOrTurnOthersAreNamed() {
        assertThat(Markup.shown("a\u202Eb\u2066c\u200Fd\u0000e\u001Bf\uFEFFg\u2028h"))
                .isEqualTo("a⟨U+202E⟩b⟨U+2066⟩c⟨U+200F⟩d⟨U+0000⟩e⟨U+001B⟩f⟨U+FEFF⟩g⟨U+2028⟩h");
    }

    @Test
    void halfACharacterIsNamedAndWholeOnesStay() {
        assertThat(Markup.shown("x\uD800y")).isEqualTo("x⟨U+D800⟩y");
        assertThat(Markup.shown("Åsa 𝛀 修理 اصلاح")).isEqualTo("Åsa 𝛀 修理 اصلاح");
    }
}

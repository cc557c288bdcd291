// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.regex.Pattern;
import java.util.stream.Stream;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.CsvSource;

final class EscapedHtmlTest {
    @Test
    void markupInATextIsShownAndNotObeyed() {
        assertThat(EscapedHtml.escaped("<script>alert('x')</script> & \"quoted\""))
                .isEqualTo("&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt; &amp; &quot;quoted&quot;");
    }

    @Test
    void whatCannotBeSeenIsNamed() {
        assertThat(EscapedHtml.escaped("a\u202E<b>")).isEqualTo("a⟨U+202E⟩&lt;b&gt;");
    }

    @ParameterizedTest
    @CsvSource({"script,", "style,", "p,onclick", "p,style", "a,href", "img,src"})
    void whereABrowserWouldObeyATextNoneIsWritten(String tag, String attribute) {
        EscapedHtml page = new EscapedHtml();
        page.setContext(tag, attribute);
        assertThatThrownBy(() -> page.writeUserContent("x")).isInstanceOf(IllegalStateException.class);
        page.setContext("p", null);
        page.writeUserContent('<');
        assertThat(page).hasToString("&lt;");
    }

    /** Everything else that a template writes is escaped, whether somebody thought of it or not. */
    @Test
    void onlyThePagesOwnScriptStyleAndDataAreWrittenAsTheyStand() throws IOException {
        List<String> raw = new ArrayList<>();
        try (Stream<Path> templates = Files.list(Path.of("src", "main", "jte"))) {
            for (Path template : templates.toList()) {
                Pattern.compile("\\$unsafe\\{([^}]*)}|@raw")
                        .matcher(Files.readString(template))
                        .results()
                        .forEach(m -> raw.add(m.group(1)));
            }
        }
        assertThat(raw)
                .containsExactlyInAnyOrder(
                        "Assets.libraryStyle()",
                        "Assets.style()",
                        "review.data()",
                        "Assets.libraryScript()",
                        "Assets.script()");
    }
}

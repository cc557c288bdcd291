// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.windows;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import java.time.Instant;
import java.util.Random;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

class EventXmlTest {
    private static final String WHOLE = Recorded.event(
            "Microsoft-Windows-Kernel-Power",
            "<EventID Qualifiers='0'>41</EventID>",
            1,
            Instant.parse("2026-11-25T14:02:00Z"),
            70_001,
            "S-1-5-18",
            "<Data Name='BugcheckCode'> 278 </Data><Data>plain &amp; simple</Data><Binary>E207</Binary>");

    @Test
    void wholeEventGivesItsProviderNumberTimeAndData() throws UnreadableEvent {
        Event event = EventXml.read(WHOLE);

        assertThat(event.provider()).isEqualTo("Microsoft-Windows-Kernel-Power");
        assertThat(event.id()).isEqualTo(41);
        assertThat(event.level()).isEqualTo(1);
        assertThat(event.time()).contains(Instant.parse("2026-11-25T14:02:00Z"));
        assertThat(event.recordId()).isEqualTo(70_001);
        assertThat(event.user()).isEqualTo("S-1-5-18");
        assertThat(event.data("BugcheckCode")).contains("278");
        assertThat(event.data(1)).contains("plain & simple");
        assertThat(event.binary()).isEqualTo("E207");
    }

    /** Published events carry seven or nine digits. */
    @ParameterizedTest
    @ValueSource(strings = {"2026-11-25T14:02:00.1234567Z", "2026-11-25T14:02:00.123456700Z"})
    void timesWithSevenAndNineDigitsAreRead(String time) throws UnreadableEvent {
        assertThat(EventXml.read(WHOLE.replace("2026-11-25T14:02:00Z", time)).time())
                .contains(Instant.parse("2026-11-25T14:02:00.1234567Z"));
    }

    @Test
    void unreadableTimeIsNoTime() throws UnreadableEvent {
        assertThat(EventXml.read(WHOLE.replace("2026-11-25T14:02:00Z", "yesterday"))
                        .time())
                .isEmpty();
    }

    @Test
    void everyTruncationIsRefusedAndNothingElseIsThrown() {
        for (int cut = 0; cut < WHOLE.length(); cut++) {
            String part = WHOLE.substring(0, cut);
            assertThatThrownBy(() -> EventXml.read(part))
                    .as("cut at character %d", cut)
                    .isInstanceOf(UnreadableEvent.class);
        }
    }

    @Test
    void randomDamageGivesAnEventOrARefusalAndNothingElse() {
        long seed = System.nanoTime();
        Random random = new Random(seed);
        for (int i = 0; i < 5_000; i++) {
            StringBuilder damaged = new StringBuilder(WHOLE);
            for (int n = 0; n <= random.nextInt(4); n++) {
                damaged.setCharAt(random.nextInt(damaged.length()), (char) random.nextInt(0x2100));
            }
            try {
                EventXml.read(damaged.toString());
            } catch (UnreadableEvent e) {
                assertThat(e.getMessage()).as("seed %d", seed).isNotBlank();
            }
        }
    }

    @Test
    void documentTypesAndEntitiesAreRefused() {
        String bomb = "<!DOCTYPE Event [<!ENTITY a 'aaaaaaaaaa'><!ENTITY b '&a;&a;&a;&a;'>]>"
                + WHOLE.replace("plain &amp; simple", "&b;");
        String outside = "<!DOCTYPE Event SYSTEM 'file:///etc/passwd'>" + WHOLE;
        String plain = "<!DOCTYPE Event>" + WHOLE;

        for (String xml : new String[] {bomb, outside, plain}) {
            assertThatThrownBy(() -> EventXml.read(xml))
                    .isInstanceOf(UnreadableEvent.class)
                    .hasMessageContaining("document type");
        }
        assertThatThrownBy(() -> EventXml.read(WHOLE.replace("plain &amp; simple", "&b;")))
                .isInstanceOf(UnreadableEvent.class);
    }

    @Test
    void tooLongTooDeepAndTooManyAreRefused() {
        String data = "<Data Name='BugcheckCode'> 278 </Data>";
        assertRefused(WHOLE.replace(data, "<Data>" + "x".repeat(EventXml.CHARS_MOST) + "</Data>"), "longer than");
        assertRefused(WHOLE.replace(data, "<a>".repeat(40) + "</a>".repeat(40)), "deep");
        assertRefused(WHOLE.replace(data, "<Data>1</Data>".repeat(500)), "more than");
    }

    @Test
    void longValueIsCutNotKept() throws UnreadableEvent {
        Event event = EventXml.read(WHOLE.replace("plain &amp; simple", "x".repeat(100_000)));

        assertThat(event.data(1).orElseThrow()).hasSizeLessThanOrEqualTo(4096);
    }

    @Test
    void whatIsNoEventIsRefused() {
        assertRefused("", "XML");
        assertRefused("<Events/>", "root");
        assertRefused("<Event/>", "root");
        assertRefused(WHOLE.replace("2004/08/events", "1999/elsewhere"), "root");
        assertRefused(WHOLE.replace(">41<", ">forty-one<"), "EventID");
        assertRefused(WHOLE.replace(">41<", ">70000<"), "EventID");
        assertRefused(WHOLE.replace("<Provider Name='Microsoft-Windows-Kernel-Power'/>", ""), "provider");
    }

    private static void assertRefused(String xml, String why) {
        assertThatThrownBy(() -> EventXml.read(xml))
                .isInstanceOf(UnreadableEvent.class)
                .hasMessageContaining(why);
    }
}

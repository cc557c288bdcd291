// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.gpu;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.runlog.LimitType;
import java.util.List;
import java.util.Map;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.ValueSource;

/** The server's lines; here {@code |} stands between two of them and {@code ~} for a tab. */
class AnswersTest {
    private static final String ADDRESS = "0000:01:00.0";
    private static final String OTHER = "0000:02:00.0";

    private static List<String> lines(String said) {
        return List.of(said.replace('~', '\t').replace("A!", ADDRESS).split("\\|", -1));
    }

    @Test
    void anOfferArrivesAsItWasMade() throws Refused {
        Offer offer =
                Offer.known("core.temperature").withLimits(Map.of(LimitType.MAX, 87.0, LimitType.THROTTLED, 89.5));
        Offer flag = Offer.known("throttle.heat.active").withLabel("clocks-event reasons 0x60");
        OpenAnswer answer = OpenAnswer.of(
                List.of("gpu\t" + ADDRESS, offer.toLine(), flag.toLine(), "absent\tpower\t3", "opened"),
                List.of(ADDRESS));
        assertThat(answer.gpus())
                .containsExactly(new OpenAnswer.Gpu(ADDRESS, List.of(offer, flag), Map.of("power", 3)));
    }

    @ParameterizedTest
    @ValueSource(
            strings = {
                "",
                "gpu~A!",
                "gpu|opened",
                "gpu~|opened",
                "gpu~A!~x|opened",
                "gpu~0000:02:00.0|opened",
                "gpu~A!|gpu~A!|opened",
                "gpu~A!|unreachable~A!~15|opened",
                "unreachable~A!~99999999999|opened",
                "unreachable~A!|opened",
                "offer~power~~|opened",
                "absent~power~3|opened",
                "gpu~A!|offer~nonsense~~|opened",
                "gpu~A!|offer~power~~|offer~power~~|opened",
                "gpu~A!|offer~power~|opened",
                "gpu~A!|offer~power~~max|opened",
                "gpu~A!|offer~power~~max=NaN|opened",
                "gpu~A!|offer~power~~max=1e999|opened",
                "gpu~A!|offer~power~~odd=1|opened",
                "gpu~A!|offer~power~~max=1,|opened",
                "gpu~A!|absent~power~x|opened",
                "gpu~A!|absent~power~3|absent~power~3|opened",
                "gpu~A!|absent~power|opened",
                "gpu~A!|absent~a;b~3|opened",
                "gpu~A!|absent~~3|opened",
                "opened|opened",
                "opened~x",
                "failed",
                "failed~a~b",
                "failed~a|opened",
                "values~1",
                "hello|opened"
            })
    void whatNoServerAnswersWhenItIsOpenedIsRefused(String said) {
        assertThatThrownBy(() -> OpenAnswer.of(lines(said), List.of(ADDRESS)))
                .isInstanceOf(Refused.class)
                .hasMessageStartingWith("its process said what it never says: '");
    }

    @ParameterizedTest
    @ValueSource(
            strings = {
                "",
                "values~NaN",
                "values~Infinity",
                "values~1e999",
                "values~x",
                "values~",
                "lost~A!~15|",
                "lost~A!|values~1",
                "lost~A!~x|values~1",
                "lost~0000:02:00.0~15|values~1",
                "lost~A!~15|lost~A!~15|values~1",
                "lost~A!~15",
                "restarted|values~1",
                "restarted~a|restarted~a|values~1",
                "restarted~a",
                "values~1|values~1",
                "failed",
                "failed~3~a",
                "opened",
                "hello|values~1"
            })
    void whatNoServerAnswersWhenItReadsIsRefused(String said) {
        assertThatThrownBy(() -> ReadAnswer.of(lines(said), List.of(ADDRESS)))
                .isInstanceOf(Refused.class)
                .hasMessageStartingWith("its process said what it never says: '");
    }

    @Test
    void aReadingArrivesAsItWasSaid() throws Refused {
        assertThat(ReadAnswer.of(lines("lost~A!~15|restarted~after|values~1.5~-"), List.of(ADDRESS, OTHER)))
                .isEqualTo(new ReadAnswer(List.of(1.5, Double.NaN), Map.of(ADDRESS, 15), "after", ""));
    }
}

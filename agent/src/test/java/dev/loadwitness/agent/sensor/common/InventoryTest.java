// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.common;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.agent.sensor.Missing;
import java.time.Duration;
import java.util.LinkedHashMap;
import java.util.Map;
import java.util.Set;
import java.util.concurrent.CountDownLatch;
import java.util.function.Supplier;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;

@Timeout(60)
class InventoryTest {
    private static final Duration LONGEST = Duration.ofMillis(300);

    private static Map<String, Supplier<Map<String, String>>> laptop() {
        Map<String, Supplier<Map<String, String>>> questions = new LinkedHashMap<>();
        questions.put(
                "machine",
                () -> Map.of(
                        "make", "Alder Works",
                        "model", "AW-17 Kestrel",
                        "serial", "AWK17-004711",
                        "uuid", "4c4c4544-0047-3110-8044-b4c04f4a4d32",
                        "board-serial", "KB-99.17"));
        questions.put("os", () -> Map.of("family", "Linux", "host", "kestrel-bench", "version", "12 (kestrel-bench)"));
        questions.put(
                "storage", () -> Map.of("1.model", "Disk S/N awk17-004711x awk17-004711", "1.serial", "D0001112"));
        return questions;
    }

    @Test
    void everythingIsThereWhenNothingIsWithheld() {
        Inventory inventory = Inventory.take(Set.of(), Map.of(), laptop(), LONGEST);
        assertThat(inventory.facts().get("machine"))
                .containsEntry("serial", "AWK17-004711")
                .hasSize(5);
        assertThat(inventory.missing()).isEmpty();
        assertThat(inventory.scrub("AWK17-004711 on kestrel-bench")).isEqualTo("AWK17-004711 on kestrel-bench");
    }

    @Test
    void withheldSerialsAreNowhereNotEvenInsideOtherTexts() {
        Inventory inventory = Inventory.take(Set.of("serial"), Map.of(), laptop(), LONGEST);
        assertThat(inventory.facts().get("machine")).containsOnlyKeys("make", "model");
        assertThat(inventory.facts().get("storage"))
                .containsOnly(Map.entry("1.model", "Disk S/N awk17-004711x (withheld)"));
        assertThat(inventory.facts().get("os")).containsEntry("host", "kestrel-bench");
        assertThat(
                        inventory.scrub(
                                "disk D0001112 board KB-99.17 root=UUID=0F0E0D0C-0000-1111-2222-333344445555 10:7b:44:00:12:Fe"))
                .isEqualTo("disk (withheld) board (withheld) root=UUID=(withheld) (withheld)");
    }

    @Test
    void withheldHostIsNowhereNotEvenInsideOtherTexts() {
        Inventory inventory = Inventory.take(Set.of("host"), Map.of(), laptop(), LONGEST);
        assertThat(inventory.facts().get("os"))
                .containsOnly(Map.entry("family", "Linux"), Map.entry("version", "12 ((withheld))"));
        assertThat(inventory.facts().get("machine")).containsKey("serial");
        assertThat(inventory.scrub("Hostname set to <kestrel-bench>")).isEqualTo("Hostname set to <(withheld)>");
    }

    @Test
    void unknownWordToWithholdIsAnErrorAndNotIgnored() {
        assertThatThrownBy(() -> Inventory.take(Set.of("serials"), Map.of(), laptop(), LONGEST))
                .isInstanceOf(IllegalArgumentException.class)
                .hasMessageContaining("'serials'");
    }

    @Test
    void hangingOrFailingGroupCostsOnlyWhatItAndItsLateFollowersKnow() throws Exception {
        CountDownLatch hang = new CountDownLatch(1);
        Map<String, Supplier<Map<String, String>>> questions = new LinkedHashMap<>();
        questions.put("cpu", () -> {
            throw new IllegalStateException("no driver");
        });
        questions.put("machine", () -> Map.of("make", "Alder Works"));
        questions.put("memory", () -> {
            try {
                hang.await();
            } catch (InterruptedException e) {
                throw new IllegalStateException(e);
            }
            return Map.of();
        });
        long began = System.nanoTime();
        Inventory inventory = Inventory.take(Set.of(), Map.of("gpu", Map.of("1.pci", "10de:2520")), questions, LONGEST);
        hang.countDown();
        assertThat(Duration.ofNanos(System.nanoTime() - began)).isLessThan(LONGEST.multipliedBy(10));
        assertThat(inventory.facts()).containsOnlyKeys("machine", "gpu");
        assertThat(inventory.missing())
                .extracting(Missing::what)
                .containsExactly("inventory: cpu", "inventory: memory");
        assertThat(inventory.missing())
                .extracting(Missing::why)
                .first()
                .asString()
                .contains("no driver");
    }

    @Test
    void whatMakersWriteWhenTheyWriteNothingIsNoFactAndNoSecret() {
        Map<String, Supplier<Map<String, String>>> questions = new LinkedHashMap<>();
        questions.put(
                "machine", () -> Map.of("serial", "Default string", "model", "Default string", "make", "unknown"));
        Inventory inventory = Inventory.take(Set.of("serial"), Map.of(), questions, LONGEST);
        assertThat(inventory.facts().get("machine")).isEmpty();
        assertThat(inventory.scrub("Default string")).isEqualTo("Default string");
    }

    @Test
    void factsKnownFromElsewhereWin() {
        Inventory inventory =
                Inventory.take(Set.of(), Map.of("os", Map.of("family", "other", "kernel", "6.1")), laptop(), LONGEST);
        assertThat(inventory.facts().get("os")).containsEntry("family", "other").containsEntry("kernel", "6.1");
    }

    @Test
    void thisMachineTellsWhoItIsForReal() {
        Inventory inventory = Inventory.take(Set.of("serial", "host"), Map.of("gpu", Map.of()));
        assertThat(inventory.missing()).isEmpty();
        assertThat(inventory.facts())
                .containsOnlyKeys("machine", "firmware", "os", "cpu", "gpu", "memory", "storage", "power");
        assertThat(inventory.facts().keySet())
                .containsExactly("machine", "firmware", "os", "cpu", "gpu", "memory", "storage", "power");
        assertThat(inventory.facts().get("cpu").get("threads"))
                .isEqualTo(Integer.toString(Runtime.getRuntime().availableProcessors()));
        assertThat(inventory.facts().get("memory").get("total")).endsWith(" MiB");
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.common;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import java.util.LinkedHashMap;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import org.junit.jupiter.api.Test;

class InventoryTest {
    private static final OshiFacts NOTHING = new OshiFacts(Map.of(), Optional.empty());

    private static Map<String, Map<String, String>> laptop() {
        Map<String, Map<String, String>> facts = new LinkedHashMap<>();
        facts.put(
                "machine",
                Map.of(
                        "make", "Alder Works",
                        "model", "AW-17 Kestrel",
                        "serial", "AWK17-004711",
                        "uuid", "4c4c4544-0047-3110-8044-b4c04f4a4d32",
                        "board-serial", "KB-99.17"));
        facts.put("os", Map.of("family", "Linux", "host", "kestrel-bench", "version", "12 (kestrel-bench)"));
        facts.put("storage", Map.of("1.model", "Disk S/N awk17-004711x awk17-004711", "1.serial", "D0001112"));
        return facts;
    }

    @Test
    void everythingIsThereWhenNothingIsWithheld() {
        Inventory inventory = Inventory.take(Set.of(), laptop(), NOTHING);
        assertThat(inventory.facts().get("machine"))
                .containsEntry("serial", "AWK17-004711")
                .hasSize(5);
        assertThat(inventory.scrub("AWK17-004711 on kestrel-bench")).isEqualTo("AWK17-004711 on kestrel-bench");
    }

    @Test
    void withheldSerialsAreNowhereNotEvenInsideOtherTexts() {
        Inventory inventory = Inventory.take(Set.of("serial"), laptop(), NOTHING);
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
        Inventory inventory = Inventory.take(Set.of("host"), laptop(), NOTHING);
        assertThat(inventory.facts().get("os"))
                .containsOnly(Map.entry("family", "Linux"), Map.entry("version", "12 ((withheld))"));
        assertThat(inventory.facts().get("machine")).containsKey("serial");
        assertThat(inventory.scrub("Hostname set to <kestrel-bench>")).isEqualTo("Hostname set to <(withheld)>");
    }

    @Test
    void unknownWordToWithholdIsAnErrorAndNotIgnored() {
        assertThatThrownBy(() -> Inventory.take(Set.of("serials"), laptop(), NOTHING))
                .isInstanceOf(IllegalArgumentException.class)
                .hasMessageContaining("'serials'");
    }

    @Test
    void whatMakersWriteWhenTheyWriteNothingIsNoFactAndNoSecret() {
        Inventory inventory = Inventory.take(
                Set.of("serial"),
                Map.of("machine", Map.of("serial", "Default string", "model", "Default string", "make", "unknown")),
                NOTHING);
        assertThat(inventory.facts().get("machine")).isEmpty();
        assertThat(inventory.scrub("Default string")).isEqualTo("Default string");
    }

    @Test
    void oshiCompletesWhatFilesSaidAndNeverContradictsIt() {
        OshiFacts oshi = new OshiFacts(
                Map.of(
                        "os", Map.of("family", "Other", "build", "77"),
                        "storage", Map.of("1.model", "Another disk", "2.model", "A second disk"),
                        "power", Map.of("BAT0.make", "unknown", "BAT0.model", "K17")),
                Optional.of("it broke off"));
        Inventory inventory = Inventory.take(Set.of(), laptop(), oshi);
        assertThat(inventory.facts().get("os")).containsEntry("family", "Linux").containsEntry("build", "77");
        assertThat(inventory.facts().get("storage")).doesNotContainValue("A second disk");
        assertThat(inventory.facts().get("power")).containsOnly(Map.entry("BAT0.model", "K17"));
        assertThat(inventory.missing())
                .singleElement()
                .satisfies(m -> assertThat(m.toString()).contains("it broke off"));
    }
}

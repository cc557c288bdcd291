// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static org.assertj.core.api.Assertions.assertThat;

import com.fasterxml.jackson.databind.JsonNode;
import com.fasterxml.jackson.databind.ObjectMapper;
import dev.loadwitness.reporter.scan.LogBuilder;
import dev.loadwitness.runlog.command.Sysexits;
import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

class ComparingCommandsTest {
    private static final Path SAMPLES = Path.of("..", "sample-runs");

    @TempDir
    Path folder;

    private record Said(int status, String out, String err) {}

    private static Said call(String... args) {
        PrintStream out = System.out;
        PrintStream err = System.err;
        ByteArrayOutputStream told = new ByteArrayOutputStream();
        ByteArrayOutputStream complained = new ByteArrayOutputStream();
        try {
            System.setOut(new PrintStream(told, true, StandardCharsets.UTF_8));
            System.setErr(new PrintStream(complained, true, StandardCharsets.UTF_8));
            int status = Main.run(args);
            return new Said(status, told.toString(StandardCharsets.UTF_8), complained.toString(StandardCharsets.UTF_8));
        } finally {
            System.setOut(out);
            System.setErr(err);
        }
    }

    private static String sample(String name) {
        return SAMPLES.resolve(name).resolve("run.jsonl").toString();
    }

    private String log(int number, double watts) throws IOException {
        return LogBuilder.gpuSoak(300, "power-held", "mandatory: yes")
                .runId(String.format(java.util.Locale.ROOT, "%032x", number))
                .serial("AWK17-00" + number)
                .curve("gpu.power", m -> m.loaded() ? watts : 15)
                .write(folder)
                .toString();
    }

    @Test
    void aBadContactShowsAgainstASoundMachine() throws Exception {
        Said text = call("compare", sample("clean-pass"), sample("bad-contact"));
        assertThat(text.status()).isZero();
        assertThat(text.out())
                .startsWith("7 differences compared, 3 told apart")
                .contains("it was held back for heat")
                .contains("SIMULATED");
        Said json = call("compare", "--json", sample("clean-pass"), sample("bad-contact"));
        JsonNode read = new ObjectMapper().readTree(json.out());
        assertThat(read.path("compared").intValue()).isEqualTo(7);
        assertThat(read.path("significant").intValue()).isEqualTo(3);
        JsonNode power = read.path("differences").get(2);
        assertThat(power.path("quantity").textValue()).isEqualTo("power held");
        assertThat(power.path("difference").doubleValue()).isNegative();
        assertThat(power.path("significant").booleanValue()).isTrue();
        assertThat(read.path("differences").get(0).path("difference").isNull()).isTrue();
    }

    @Test
    void bothRunsAreNamedAsPeopleKnowThem() {
        assertThat(call("compare", sample("bad-contact"), sample("clean-pass")).out())
                .contains(
                        "First:  FBR-2026-0142, attempt 1, 2026-11-24 09:12 UTC, Alder Works AW-17 Kestrel, SIMULATED\n        "
                                + sample("bad-contact") + "\n        fail: ")
                .contains("Second: FBR-2026-0142, attempt 1")
                .contains(sample("clean-pass") + "\n        pass: ");
    }

    @Test
    void timesAreTimesAndWhatWasCountedHasNoUncertainty() {
        String out =
                call("compare", sample("bad-contact"), sample("clean-pass")).out();
        assertThat(out)
                .containsPattern("  held back for heat +39 min 12 s +0 s +-39 min 12 s +counted +yes")
                .doesNotContain("2352");
        String died = call("compare", sample("power-cut-restarted"), sample("clean-pass"))
                .out();
        assertThat(died).containsPattern("  interruptions +1 +0 +-1 +2.0 +no");
    }

    @Test
    void whatIsMissingForOneReasonIsSaidOnceAndWhatNeverHappenedHasNoLine() {
        String out = call("compare", sample("rails-clock-lost"), sample("rails-pass"))
                .out();
        assertThat(out)
                .contains("Not compared in ramp: plateau, thermal resistance (both: the power changed until the end).")
                .contains("None in either: interruptions (whole run).")
                .doesNotContainPattern("interruptions +0")
                .doesNotContainIgnoringCase("significant");
    }

    @Test
    void whatCannotBeComparedIsRefusedWithAReason() {
        assertThat(call("compare", sample("clean-pass")).status()).isEqualTo(Sysexits.USAGE);
        assertThat(call("compare", sample("clean-pass"), "--stages", "a").status())
                .isEqualTo(Sysexits.USAGE);
        Said stage = call("compare", sample("clean-pass"), "--stages", "a,discrete-soak");
        assertThat(stage.status()).isEqualTo(Sysexits.DATA);
        assertThat(stage.err()).contains("No stage 'a'");
        Said damaged = call("compare", sample("clean-pass"), sample("tampered"));
        assertThat(damaged.status()).isEqualTo(Sysexits.DATA);
        assertThat(damaged.err()).contains("damaged or was altered");
        assertThat(call("compare", sample("clean-pass"), "none.jsonl").status()).isEqualTo(Sysexits.NO_INPUT);
    }

    @Test
    void tenMachinesFormABandThatAnEleventhIsHeldAgainst() throws Exception {
        String store = folder.resolve("bench.jsonl").toString();
        for (int i = 0; i < 10; i++) {
            Said added = call("baseline", "add", log(i, 138 + 0.4 * i), "--store", store);
            assertThat(added.status()).as(added.err()).isZero();
        }
        String sound = log(20, 141);
        String weak = log(21, 120);
        Said within = call("baseline", "check", sound, "--store", store);
        assertThat(within.out())
                .contains("within the bands of 10 other machines")
                .contains("too narrow");
        assertThat(within.status()).isZero();
        Said outside = call("baseline", "check", weak, "--store", store);
        assertThat(outside.out())
                .contains("soak: power held, W")
                .contains("below its band")
                .contains("OUTSIDE");
        assertThat(outside.status()).isEqualTo(1);
        Files.writeString(Path.of(store), "{broken\n", java.nio.file.StandardOpenOption.APPEND);
        assertThat(call("baseline", "check", sound, "--store", store).err()).contains("Line 11 is broken");
    }

    @Test
    void aStoreWithTooFewMachinesSaysHowManyAreMissing() throws Exception {
        String store = folder.resolve("bench.jsonl").toString();
        call("baseline", "add", log(1, 140), "--store", store);
        Said said = call("baseline", "check", log(2, 140), "--store", store);
        assertThat(said.status()).isEqualTo(2);
        assertThat(said.out())
                .containsIgnoringWhitespaces("runs of 1 other machine by this procedure", "9 more are needed");
        assertThat(call("baseline", "check", log(2, 140), "--store", store + "x")
                        .status())
                .isEqualTo(Sysexits.NO_INPUT);
    }

    @Test
    void aMachineThatCannotBeToldFromOthersIsRefused() throws Exception {
        String log = LogBuilder.gpuSoak(300, "power-held", "mandatory: yes")
                .withheld("serial")
                .write(folder)
                .toString();
        Path store = folder.resolve("bench.jsonl");
        Said said = call("baseline", "add", log, "--store", store.toString());
        assertThat(said.status()).isEqualTo(Sysexits.DATA);
        assertThat(said.err()).contains("the serial number was withheld");
        String filler = LogBuilder.gpuSoak(300, "power-held", "mandatory: yes")
                .serial("To be filled in")
                .write(folder)
                .toString();
        assertThat(call("baseline", "add", filler, "--store", store.toString()).err())
                .contains("'To be filled in' in place of a serial number");
        assertThat(store).doesNotExist();
    }
}

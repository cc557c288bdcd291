// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static org.assertj.core.api.Assertions.assertThat;

import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.LinkOption;
import java.nio.file.Path;
import java.nio.file.attribute.PosixFilePermissions;
import java.security.MessageDigest;
import java.util.ArrayList;
import java.util.HexFormat;
import java.util.List;
import java.util.Map;
import java.util.TreeMap;
import java.util.stream.Stream;
import org.junit.jupiter.api.BeforeAll;
import org.junit.jupiter.api.Tag;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.MethodSource;

/** Whatever a command is told to write to: no log, key, sheet or anything else that is there is changed. */
@Tag("keys")
@Timeout(value = 300, threadMode = Timeout.ThreadMode.SEPARATE_THREAD)
final class OutputsTest {
    private static final Path PROJECT = Path.of("..");
    private static final String OUT = "OUT";

    @TempDir
    private static Path bench;

    /** One command with one output; {@link #OUT} stands where its file is named. */
    private record Command(String name, List<Object> words) {
        @Override
        public String toString() {
            return name;
        }

        Object[] writingTo(Path file) {
            return words.stream().map(word -> word.equals(OUT) ? file : word).toArray();
        }
    }

    @BeforeAll
    static void lay() throws Exception {
        Path quick = PROJECT.resolve("sample-runs/real-quick-check/run.jsonl");
        Files.copy(quick, at("run.jsonl"));
        Files.copy(PROJECT.resolve("sample-runs/fan-stalls/run.jsonl"), at("earlier.jsonl"));
        Files.copy(PROJECT.resolve("sample-runs/rails-pass/run.jsonl"), at("another-run.jsonl"));
        Files.copy(PROJECT.resolve("thresholds/quick-check.yaml"), at("criteria.yaml"));
        Files.writeString(at("run.part2.jsonl"), "a stranger\n");
        Files.writeString(
                at("another.part2.jsonl"),
                "{\"n\":5,\"type\":\"part\",\"run\":\"r\",\"part\":2,\"goodBytes\":1,\"goodChain\":\"" + "0".repeat(64)
                        + "\",\"chain\":\"" + "0".repeat(64) + "\"}\n");
        Files.writeString(at("passphrase"), "correct horse battery staple\n");
        Files.setPosixFilePermissions(at("passphrase"), PosixFilePermissions.fromString("rw-------"));
        assertThat(Said.by(
                                "signing-key",
                                "--name",
                                "Fernhollow",
                                "--out",
                                at("key.p12"),
                                "--certificate",
                                at("key.pem"),
                                "--passphrase-file",
                                at("passphrase"))
                        .status())
                .isZero();
        assertThat(Said.by("baseline", "add", at("another-run.jsonl"), "--store", at("store.jsonl"))
                        .status())
                .isZero();
        Files.writeString(at("torn-store.jsonl"), "{\"type\":\"baseline-r");
        Files.writeString(at("notes.txt"), "call the customer\n");
        Files.createDirectory(at("folder"));
        assertThat(new ProcessBuilder("mkfifo", at("pipe").toString()).start().waitFor())
                .isZero();
        Files.createSymbolicLink(at("link-to-key"), Path.of("key.p12"));
        Files.createSymbolicLink(at("link-to-log"), Path.of("run.jsonl"));
        Files.createSymbolicLink(at("link-to-nothing"), Path.of("appears"));
        Files.createSymbolicLink(at("link-to-device"), Path.of("/dev/null"));
    }

    private static Path at(String name) {
        return bench.resolve(name);
    }

    static Stream<Command> commands() {
        Object run = at("run.jsonl");
        List<Object> inputs = List.of("--criteria", at("criteria.yaml"), "--earlier", at("earlier.jsonl"));
        List<Object> key = List.of("--key", at("key.p12"), "--passphrase-file", at("passphrase"));
        return Stream.of(
                command("certify", List.of("certify", run, "--out", OUT), inputs, key),
                command("certify --unsigned", List.of("certify", run, "--out", OUT, "--unsigned"), inputs),
                command("judge --write-json", List.of("judge", run, "--write-json", OUT), inputs),
                command("review", List.of("review", run, "--out", OUT), inputs),
                command(
                        "review --replace",
                        List.of("review", run, at("another-run.jsonl"), "--out", OUT, "--replace"),
                        inputs),
                command(
                        "plan --write",
                        List.of("plan", "--mtbf", "20h", "--from", at("criteria.yaml"), "--write", OUT)),
                command("job new", List.of("job", "new", "--ticket", "FBR-2026-0142", "--out", OUT)),
                command(
                        "signing-key --out",
                        List.of("signing-key", "--name", "F", "--out", OUT, "--passphrase-file", at("passphrase"))),
                command(
                        "signing-key --certificate",
                        List.of(
                                "signing-key",
                                "--name",
                                "F",
                                "--out",
                                at("new.p12"),
                                "--certificate",
                                OUT,
                                "--passphrase-file",
                                at("passphrase"))),
                command("baseline add --store", List.of("baseline", "add", at("another-run.jsonl"), "--store", OUT)));
    }

    @SafeVarargs
    private static Command command(String name, List<Object>... words) {
        List<Object> all = new ArrayList<>();
        for (List<Object> some : words) {
            all.addAll(some);
        }
        return new Command(name, all);
    }

    @ParameterizedTest
    @MethodSource("commands")
    void noCommandWritesOverAnythingThatIsThere(Command command) throws Exception {
        Map<String, String> before = contents();
        for (String name : before.keySet()) {
            if (name.equals("store.jsonl") && command.name.startsWith("baseline")) {
                continue; // the one file that it is meant to go on with
            }
            Said said = Said.by(command.writingTo(at(name)));

            assertThat(contents())
                    .as("%s to %s: %s", command, name, said.text())
                    .isEqualTo(before);
            assertThat(said.status())
                    .as("%s to %s: %s", command, name, said.text())
                    .isGreaterThan(63);
            assertThat(said.text()).as("%s to %s", command, name).contains(name).doesNotContain("defect");
        }
    }

    /** A name that a program of before wrote to first, planted as a link: nothing is written through it. */
    @ParameterizedTest
    @MethodSource("commands")
    void whatIsWrittenIsWholeAndGoesThroughNoPlantedLink(Command command) throws Exception {
        Path folder = Files.createTempDirectory(bench, "fresh");
        Path target = folder.resolve("result");
        Path prey = Files.writeString(folder.resolve("prey"), "evidence");
        for (String ending : List.of(".part", ".tmp", ".new", "~")) {
            Files.createSymbolicLink(folder.resolve("result" + ending), prey);
        }
        Said said = Said.by(command.writingTo(target));
        Files.deleteIfExists(at("new.p12"));

        assertThat(said.status()).as(said.text()).isLessThan(64);
        assertThat(target).isNotEmptyFile();
        assertThat(prey).hasContent("evidence");
        try (Stream<Path> files = Files.list(folder)) {
            assertThat(files).hasSize(6);
        }
        deleteAll(folder);
    }

    @Test
    void anOlderVerdictAndAnOlderPageAreReplacedAndAnEmptyFileIs() throws Exception {
        for (Command command : commands()
                .filter(c -> c.name.matches("judge.*|review --replace"))
                .toList()) {
            Path folder = Files.createTempDirectory(bench, "older");
            Path target = Files.createFile(folder.resolve("result"));
            Said.by(command.writingTo(target));
            byte[] first = Files.readAllBytes(target);
            assertThat(first).isNotEmpty();
            Said.by(command.writingTo(target));
            assertThat(target).hasBinaryContent(first);
            deleteAll(folder);
        }
    }

    private static void deleteAll(Path folder) throws IOException {
        try (Stream<Path> files = Files.list(folder)) {
            for (Path file : files.toList()) {
                Files.delete(file);
            }
        }
        Files.delete(folder);
    }

    /** All that lies on the bench, with what is in it; of a link, where it leads. */
    private static Map<String, String> contents() throws Exception {
        Map<String, String> contents = new TreeMap<>();
        try (Stream<Path> files = Files.list(bench)) {
            for (Path file : files.toList()) {
                contents.put(file.getFileName().toString(), content(file));
            }
        }
        return contents;
    }

    private static String content(Path file) throws Exception {
        if (Files.isSymbolicLink(file)) {
            return "link to " + Files.readSymbolicLink(file);
        }
        if (!Files.isRegularFile(file, LinkOption.NOFOLLOW_LINKS)) {
            return Files.isDirectory(file) ? "folder" : "other";
        }
        return HexFormat.of().formatHex(MessageDigest.getInstance("SHA-256").digest(Files.readAllBytes(file)));
    }
}

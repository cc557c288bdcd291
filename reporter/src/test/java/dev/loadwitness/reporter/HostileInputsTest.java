// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static java.nio.charset.StandardCharsets.ISO_8859_1;
import static java.nio.charset.StandardCharsets.UTF_8;
import static org.assertj.core.api.Assertions.assertThat;

import dev.loadwitness.runlog.command.Sysexits;
import java.io.ByteArrayOutputStream;
import java.io.IOException;
import java.io.RandomAccessFile;
import java.nio.file.Files;
import java.nio.file.Path;
import java.nio.file.attribute.PosixFilePermissions;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.stream.Stream;
import java.util.zip.Deflater;
import java.util.zip.DeflaterOutputStream;
import org.junit.jupiter.api.BeforeAll;
import org.junit.jupiter.api.Tag;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.Timeout;
import org.junit.jupiter.api.io.TempDir;
import org.junit.jupiter.params.ParameterizedTest;
import org.junit.jupiter.params.provider.MethodSource;

/** Whatever a command is given to read, it ends, says why in a message, and with no status that is a verdict. */
@Tag("keys")
@Timeout(value = 300, threadMode = Timeout.ThreadMode.SEPARATE_THREAD)
final class HostileInputsTest {
    private static final Path PROJECT = Path.of("..");
    private static final Path RUN = PROJECT.resolve("sample-runs/real-quick-check/run.jsonl");
    private static final String IN = "IN";
    private static final long FOUR_TEBIBYTES = 1L << 42;
    private static final int BOMB_BYTES = 400_000_000;

    @TempDir
    private static Path folder;

    private record Command(String name, List<Object> words) {
        @Override
        public String toString() {
            return name;
        }

        Object[] reading(Path file) {
            return words.stream().map(word -> word.equals(IN) ? file : word).toArray();
        }
    }

    @BeforeAll
    static void lay() throws Exception {
        pipe("pipe");
        Files.createSymbolicLink(at("link-to-pipe"), Path.of("pipe"));
        Files.createSymbolicLink(at("link-to-zeros"), Path.of("/dev/zero"));
        Files.createSymbolicLink(at("link-to-itself"), Path.of("link-to-itself"));
        Files.createDirectory(at("folder"));
        sparse(at("huge"));
        Files.createFile(at("empty"));
        Files.writeString(at("passphrase"), "correct horse battery staple\n");
        Files.setPosixFilePermissions(at("passphrase"), PosixFilePermissions.fromString("rw-------"));
    }

    private static Path at(String name) {
        return folder.resolve(name);
    }

    private static void pipe(String name) throws Exception {
        assertThat(new ProcessBuilder("mkfifo", at(name).toString()).start().waitFor())
                .isZero();
    }

    private static void sparse(Path file) throws IOException {
        try (RandomAccessFile huge = new RandomAccessFile(file.toFile(), "rw")) {
            huge.setLength(FOUR_TEBIBYTES);
        }
        Files.setPosixFilePermissions(file, PosixFilePermissions.fromString("rw-------"));
    }

    static Stream<Command> commands() {
        Path procedure = PROJECT.resolve("thresholds/quick-check.yaml");
        return Stream.of(
                command("judge", IN),
                command("judge --criteria", RUN, "--criteria", IN),
                command("judge --job", RUN, "--job", IN),
                command("judge --earlier", RUN, "--earlier", IN),
                command("certify", IN, "--out", at("never"), "--unsigned"),
                command("certify --key", RUN, "--out", at("never"), "--key", IN, "--passphrase-file", at("passphrase")),
                command(
                        "certify --passphrase-file",
                        RUN,
                        "--out",
                        at("never"),
                        "--key",
                        at("none"),
                        "--passphrase-file",
                        IN),
                command("review", IN, "--out", at("never")),
                command("review LOG", RUN, IN, "--out", at("never")),
                command("verify", IN),
                command("compare", IN, RUN),
                command("compare LOG", RUN, IN),
                command("plan --from", "--mtbf", "20h", "--from", IN),
                command("plan --job", "--job", IN),
                command("plan --write", "--mtbf", "20h", "--from", IN, "--write", at("never")),
                command("job check", IN),
                command("baseline add", IN, "--store", at("never")),
                command("baseline check", IN, "--store", RUN),
                command("baseline check --store", PROJECT.resolve("sample-runs/rails-pass/run.jsonl"), "--store", IN),
                command(
                        "signing-key --renew",
                        "--renew",
                        IN,
                        "--out",
                        at("never"),
                        "--passphrase-file",
                        at("passphrase")),
                command("judge --criteria again", RUN, "--criteria", procedure, "--earlier", IN));
    }

    private static Command command(String name, Object... words) {
        List<Object> all = new ArrayList<>(List.of(name.split(" (--| LOG|again).*| LOG", -1)[0].split(" ", -1)));
        all.addAll(List.of(words));
        return new Command(name, all);
    }

    @ParameterizedTest
    @MethodSource("commands")
    void whatIsNoFileOrNotTheOneMeantIsRefusedAtOnce(Command command) throws IOException {
        for (String name : List.of(
                "pipe", "link-to-pipe", "link-to-zeros", "link-to-itself", "folder", "huge", "empty", "missing")) {
            if (name.equals("empty") && command.name.endsWith("--store")) {
                continue; // a store that nothing was added to yet
            }
            Said said = Said.by(command.reading(at(name)));

            assertThat(said.status())
                    .as("%s of %s: %s", command, name, said.text())
                    .isGreaterThan(63);
            assertThat(said.text())
                    .as("%s of %s", command, name)
                    .doesNotContain("defect")
                    .isNotBlank();
            assertThat(at("never")).as("%s of %s", command, name).doesNotExist();
        }
        Said zeros = Said.by(command.reading(Path.of("/dev/zero")));
        assertThat(zeros.status()).as(zeros.text()).isGreaterThan(63);
    }

    @Test
    void aPhotoThatIsAPipeADeviceOrTooLargeIsNotWaitedFor() throws Exception {
        Files.createSymbolicLink(at("zeros.jpg"), Path.of("/dev/zero"));
        pipe("pipe.jpg");
        sparse(at("huge.jpg"));
        for (String photo : List.of("zeros.jpg", "pipe.jpg")) {
            Said said = Said.by("job", "check", sheetWith(photo));
            assertThat(said.text()).as(photo).contains(photo);
            assertThat(said.status()).as(said.text()).isIn(Exit.PASS, Exit.INCONCLUSIVE);
        }
        Said said = Said.by("job", "check", sheetWith("huge.jpg"));
        assertThat(said.status()).as(said.text()).isGreaterThan(63);
        assertThat(said.text()).contains("huge.jpg is larger than 256 MiB");
    }

    private static Path sheetWith(String photo) throws IOException {
        return Files.writeString(
                at("sheet.yaml"),
                "format: loadwitness-job-sheet/1\nticket: FBR-2026-0142\nphotos: [{file: " + photo + "}]\n");
    }

    /** Half a megabyte that unpacks to 400, in a heap that could not hold it. */
    @Test
    void aReportThatUnpacksToHundredsOfMegabytesIsRefusedInLittleMemory() throws Exception {
        ByteArrayOutputStream packed = new ByteArrayOutputStream();
        try (DeflaterOutputStream out = new DeflaterOutputStream(packed, new Deflater(Deflater.BEST_COMPRESSION))) {
            byte[] zeros = new byte[1_000_000];
            for (int i = 0; i < BOMB_BYTES / zeros.length; i++) {
                out.write(zeros);
            }
        }
        byte[] bomb = pdf(packed.toString(ISO_8859_1));
        assertThat(bomb.length).isLessThan(600_000);
        Path file = Files.write(at("bomb.pdf"), bomb);
        Process process = new ProcessBuilder(
                        Path.of(System.getProperty("java.home"), "bin", "java").toString(),
                        "-Xmx256m",
                        "-cp",
                        System.getProperty("surefire.test.class.path", System.getProperty("java.class.path")),
                        Main.class.getName(),
                        "verify",
                        file.toString())
                .redirectErrorStream(true)
                .start();
        String said = new String(process.getInputStream().readAllBytes(), UTF_8);

        assertThat(process.waitFor()).as(said).isEqualTo(Sysexits.DATA);
        assertThat(said).contains("run.jsonl is larger than the limit for all files together");
    }

    /** A small file of our shape with one file inside. */
    private static byte[] pdf(String stream) {
        List<String> objects = List.of(
                "<</Type/Catalog/Names<</EmbeddedFiles<</Names[(run.jsonl)2 0 R]>>>>>>",
                "<</Type/Filespec/UF(run.jsonl)/EF<</F 3 0 R>>>>",
                "<</Type/EmbeddedFile/Filter/FlateDecode/Length " + stream.length() + ">>stream\n" + stream
                        + "\nendstream");
        StringBuilder out = new StringBuilder("%PDF-1.7\n");
        StringBuilder table = new StringBuilder("xref\n0 4\n0000000000 65535 f \n");
        for (int i = 0; i < objects.size(); i++) {
            table.append(String.format(Locale.ROOT, "%010d 00000 n \n", out.length()));
            out.append(i + 1).append(" 0 obj\n").append(objects.get(i)).append("\nendobj\n");
        }
        int start = out.length();
        out.append(table)
                .append("trailer\n<</Size 4/Root 1 0 R>>\nstartxref\n")
                .append(start)
                .append("\n%%EOF\n");
        return out.toString().getBytes(ISO_8859_1);
    }
}

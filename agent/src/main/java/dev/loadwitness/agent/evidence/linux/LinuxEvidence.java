// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import dev.loadwitness.agent.evidence.LastBoot;
import dev.loadwitness.agent.evidence.Quality;
import dev.loadwitness.runlog.ending.Fact;
import dev.loadwitness.runlog.ending.Found;
import java.io.IOException;
import java.math.BigDecimal;
import java.math.RoundingMode;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.time.Instant;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.Optional;
import java.util.concurrent.CompletableFuture;
import java.util.concurrent.ExecutionException;
import java.util.concurrent.TimeUnit;
import java.util.concurrent.TimeoutException;
import java.util.function.BiConsumer;
import java.util.function.Predicate;
import java.util.regex.Pattern;

/**
 * Evidence of how a boot ended. Each kind is sought on a thread of its own that is given up when its time is over,
 * so that one file or program that never answers costs only its own facts.
 */
public final class LinuxEvidence {
    private static final Pattern BOOT_ID = Pattern.compile("[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}");
    private static final Duration CHILD_LIMIT = Duration.ofSeconds(8);
    private static final Duration STEP_LIMIT = Duration.ofSeconds(10);
    private static final int JOURNAL_BYTES = 8 << 20;
    private static final int KERNEL_BYTES = 2 << 20;
    private static final int JOURNAL_ENTRIES = 3000;
    private static final int SMALL_BYTES = 4 << 10;

    /** {@code /proc/stat} names each interrupt before it comes to btime. */
    private static final int STAT_BYTES = 1 << 20;

    /** WDIOF_ bits of include/uapi/linux/watchdog.h. */
    private static final int WATCHDOG_OVERHEAT = 0x01;

    private static final int WATCHDOG_POWER_UNDER = 0x10;
    private static final int WATCHDOG_CARD_RESET = 0x20;

    private static final double KILL_SLACK_SECONDS = 60;

    /**
     * Journal and samples of one boot have one clock, right or wrong. What could part them is a step of it just before the
     * end; journald writes every five minutes at the latest (journald.conf(5), SyncIntervalSec), so an end longer before the
     * last sample than twice that is taken for such a step where that clock was not right.
     */
    private static final Duration JOURNAL_SILENT_MOST = Duration.ofMinutes(10);

    private final Path root;
    private final Predicate<Path> inMemory;
    private final Duration childLimit;
    private final Duration stepLimit;

    /**
     * Evidence of the system below a root.
     *
     * @param root of the file system, {@code /} outside tests; programs are run from below it too
     * @param inMemory whether a folder is gone with the power
     */
    public LinuxEvidence(Path root, Predicate<Path> inMemory) {
        this(root, inMemory, CHILD_LIMIT, STEP_LIMIT);
    }

    LinuxEvidence(Path root, Predicate<Path> inMemory, Duration childLimit, Duration stepLimit) {
        this.root = root;
        this.inMemory = inMemory;
        this.childLimit = childLimit;
        this.stepLimit = stepLimit;
    }

    /** One kind of evidence. What it puts counts only if it ends in time. */
    private interface Step {
        void learn(BiConsumer<Fact, String> facts) throws IOException;
    }

    /**
     * The facts of a {@code boot-evidence} record, by the words of {@link Fact}. Never throws: what could not be learned is
     * left out, and said in {@code not-learned}. Takes seconds, and with everything hanging a minute and a half. Copies no
     * serial number, host or user name.
     */
    public Map<String, String> gather(LastBoot last) {
        Map<Fact, String> facts = new LinkedHashMap<>();
        List<String> notLearned = new ArrayList<>();
        step("boot id", facts, notLearned, f -> sameBoot(last, f));
        boolean same = Found.YES.word().equals(facts.get(Fact.SAME_BOOT));
        step("crash report of the agent", facts, notLearned, f -> agentCrash(last, f));
        if (same) {
            step("messages of the kernel", facts, notLearned, f -> agentKilled(last, f));
        } else {
            step("time of this start", facts, notLearned, f -> offSeconds(last, f));
            step("journal", facts, notLearned, f -> journal(last, f));
            step("first messages of that boot", facts, notLearned, f -> resetReasonBefore(last, f));
            step("wtmp", facts, notLearned, f -> logins(last, f));
            step("pstore", facts, notLearned, f -> crashStore(last, f));
            step("messages of the kernel", facts, notLearned, this::kernelOfThisBoot);
            step("watchdog", facts, notLearned, this::watchdog);
        }
        Map<String, String> words = new LinkedHashMap<>();
        facts.forEach((fact, text) -> words.put(fact.word(), text));
        if (!notLearned.isEmpty()) {
            words.put(Fact.NOT_LEARNED.word(), Bounded.harmless(String.join("; ", notLearned), 1000));
        }
        return words;
    }

    private void step(String what, Map<Fact, String> facts, List<String> notLearned, Step step) {
        CompletableFuture<Map<Fact, String>> done = new CompletableFuture<>();
        Thread thread = new Thread(
                () -> {
                    Map<Fact, String> found = new LinkedHashMap<>();
                    try {
                        step.learn(found::put);
                        done.complete(found);
                    } catch (IOException | RuntimeException e) {
                        done.completeExceptionally(e); // a wrong file must not cost the other evidence
                    }
                },
                "evidence: " + what);
        thread.setDaemon(true);
        thread.start();
        try {
            facts.putAll(done.get(stepLimit.toMillis(), TimeUnit.MILLISECONDS));
        } catch (TimeoutException e) {
            notLearned.add(what + ": no answer");
        } catch (ExecutionException e) {
            notLearned.add(what + ": "
                    + (e.getCause() instanceof IOException io
                            ? Bounded.why(io)
                            : e.getCause().getClass().getSimpleName()));
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
            notLearned.add(what + ": interrupted");
        }
    }

    private void sameBoot(LastBoot last, BiConsumer<Fact, String> facts) throws IOException {
        if (!BOOT_ID.matcher(last.bootId()).matches()) {
            throw new IOException("the log has none");
        }
        String now = bootId();
        facts.accept(Fact.SAME_BOOT, (now.equals(last.bootId()) ? Found.YES : Found.NO).word());
    }

    private String bootId() throws IOException {
        String now = Bounded.text(root.resolve("proc/sys/kernel/random/boot_id"), SMALL_BYTES);
        if (!BOOT_ID.matcher(now).matches()) {
            throw new IOException("the kernel's is no UUID");
        }
        return now;
    }

    private static void agentCrash(LastBoot last, BiConsumer<Fact, String> facts) throws IOException {
        if (last.crashFolders().isEmpty() || last.lastSample().isEmpty()) {
            return; // it writes none
        }
        Instant sample = last.comparable().orElseThrow(() -> new IOException("times cannot be compared"));
        boolean found = false;
        for (Path folder : last.crashFolders()) {
            for (Path file : Bounded.list(folder)) {
                found |= file.getFileName().toString().matches("hs_err_pid\\d{1,10}\\.log")
                        && !Files.getLastModifiedTime(file).toInstant().isBefore(sample.minusSeconds(1));
            }
        }
        facts.accept(Fact.AGENT_CRASH, (found ? Found.REPORT : Found.NONE).word());
    }

    private Instant bootStart() throws IOException {
        for (String line :
                Bounded.text(root.resolve("proc/stat"), STAT_BYTES).lines().toList()) {
            if (line.matches("btime \\d{1,12}")) {
                return Instant.ofEpochSecond(Long.parseLong(line.substring("btime ".length())));
            }
        }
        throw new IOException("stat has no btime");
    }

    private void offSeconds(LastBoot last, BiConsumer<Fact, String> facts) throws IOException {
        Instant sample = last.comparable()
                .orElseThrow(
                        () -> new IOException("the clock of then or now is not trusted, so times are not compared"));
        Duration off = Duration.between(sample, bootStart());
        if (off.isNegative()) {
            // btime has whole seconds only.
            if (off.compareTo(Duration.ofSeconds(-1)) < 0) {
                throw new IOException("this boot began before the last sample, by its clock");
            }
            off = Duration.ZERO;
        }
        facts.accept(Fact.OFF_SECONDS, seconds(off));
    }

    private void journal(LastBoot last, BiConsumer<Fact, String> facts) throws IOException {
        List<Map<String, String>> entries = Journal.entries(askJournal(
                        last,
                        List.of("--lines=" + JOURNAL_ENTRIES, "--output-fields=" + JournalEnd.FIELDS),
                        JOURNAL_BYTES,
                        true)
                .bytes());
        if (entries.isEmpty()) {
            throw new IOException("has nothing of that boot");
        }
        JournalEnd end = JournalEnd.of(entries);
        facts.accept(Fact.SYSTEM_LOG, end.end().word());
        end.asked().ifPresent(a -> facts.accept(Fact.ASKED_BY, a.word()));
        facts.accept(Fact.THERMAL_MESSAGE, (end.thermal() ? Found.YES : Found.NO).word());
        facts.accept(Fact.ASLEEP, (end.asleep() ? Found.YES : Found.NO).word());
        if (end.last().isPresent() && last.lastSample().isPresent()) {
            Duration after =
                    Duration.between(last.lastSample().get(), end.last().get());
            if (last.comparable().isPresent() || after.compareTo(JOURNAL_SILENT_MOST.negated()) > 0) {
                facts.accept(Fact.SYSTEM_LOG_SECONDS, seconds(after));
            }
        }
    }

    private Child.Answer askJournal(LastBoot last, List<String> more, int most, boolean whole) throws IOException {
        if (!BOOT_ID.matcher(last.bootId()).matches()) {
            throw new IOException("the log has no boot id to ask for");
        }
        Path folder = journalFolder();
        List<String> command = new ArrayList<>(List.of(
                program("journalctl"),
                "--directory=" + folder,
                // Not --boot: it looks in the order of times, and misses the boot once a clock went back.
                "_BOOT_ID=" + last.bootId().replace("-", ""),
                "--output=export",
                "--no-pager",
                "--quiet"));
        command.addAll(more);
        Child.Answer answer = Child.ask(command, most, childLimit);
        if (answer.failed()) {
            throw new IOException("has nothing of that boot, or not for this user");
        }
        if (whole && answer.cut()) {
            throw new IOException("its last entries are larger than " + (most >> 20) + " MiB");
        }
        return answer;
    }

    /** The persistent journal's, if it holds any file. */
    private Path journalFolder() throws IOException {
        Path folder = root.resolve("var/log/journal");
        if (!Files.isDirectory(folder)) {
            throw new IOException("not persistent");
        }
        boolean any = Bounded.files(folder, 2).stream()
                .anyMatch(f -> f.getFileName().toString().matches(".*\\.journal~?"));
        if (!any) {
            throw new IOException("not persistent: its folder is empty");
        }
        return folder.toAbsolutePath();
    }

    private String program(String name) throws IOException {
        for (String folder : List.of("usr/bin", "bin")) {
            Path program = root.resolve(folder).resolve(name);
            if (Files.isExecutable(program)) {
                return program.toAbsolutePath().toString();
            }
        }
        throw new IOException("there is no " + name);
    }

    private void resetReasonBefore(LastBoot last, BiConsumer<Fact, String> facts) throws IOException {
        Child.Answer answer =
                askJournal(last, List.of("_TRANSPORT=kernel", "--output-fields=MESSAGE"), KERNEL_BYTES, false);
        KernelText text = new KernelText(Journal.entries(answer.bytes()).stream()
                .map(e -> e.getOrDefault("MESSAGE", ""))
                .toList());
        if (!text.whole()) {
            throw new IOException("are no longer in the journal");
        }
        facts.accept(Fact.RESET_REASON_BEFORE, text.resetReasons().orElse(Found.NONE.word()));
    }

    private void logins(LastBoot last, BiConsumer<Fact, String> facts) throws IOException {
        Path file = root.resolve("var/log/wtmp");
        if (!Files.exists(file)) {
            throw new IOException(
                    Files.exists(root.resolve("var/lib/wtmpdb/wtmp.db"))
                            ? "this system keeps wtmpdb instead, which is not read"
                            : "not there");
        }
        Instant sample = last.comparable()
                .orElseThrow(() -> new IOException("times cannot be compared, so that boot is not found in it"));
        Found found = LoginRecords.after(LoginRecords.read(file), sample)
                .orElseThrow(() -> new IOException("has no record of that boot's start, or none of this one's"));
        facts.accept(Fact.LOGIN_RECORDS, found.word());
    }

    private void crashStore(LastBoot last, BiConsumer<Fact, String> facts) throws IOException {
        CrashStore.Content content = new CrashStore(root).content(last.comparable());
        facts.accept(Fact.CRASH_STORE, content.found().word());
        content.record().ifPresent(r -> facts.accept(Fact.CRASH_RECORD, Bounded.harmless(r, 100)));
    }

    /** By the system's own program, because it asks without waiting for more messages. */
    private KernelText kernelText() throws IOException {
        Child.Answer answer = Child.ask(List.of(program("dmesg")), KERNEL_BYTES, childLimit);
        if (answer.failed()) {
            throw new IOException("permission denied");
        }
        return new KernelText(
                new String(answer.bytes(), StandardCharsets.ISO_8859_1).lines().toList());
    }

    private void kernelOfThisBoot(BiConsumer<Fact, String> facts) throws IOException {
        KernelText text = kernelText();
        text.resetReasons().ifPresent(r -> facts.accept(Fact.RESET_REASON, r));
        text.resetText().ifPresent(t -> facts.accept(Fact.RESET_TEXT, t));
        Optional<Found> error = text.hardwareError();
        if (error.isPresent()) {
            facts.accept(Fact.HARDWARE_ERROR, error.get().word());
        } else if (text.whole() && Files.exists(root.resolve("sys/firmware/acpi/tables/BERT"))) {
            facts.accept(Fact.HARDWARE_ERROR, Found.NONE.word());
        }
    }

    private void agentKilled(LastBoot last, BiConsumer<Fact, String> facts) throws IOException {
        var killed = kernelText().javaKilledSeconds();
        if (killed.isPresent() && last.comparable().isPresent()) {
            Instant at = bootStart().plusMillis(Math.round(killed.getAsDouble() * 1000));
            double apart =
                    Math.abs(Duration.between(last.comparable().get(), at).toMillis() / 1000.0);
            if (apart <= KILL_SLACK_SECONDS) {
                facts.accept(Fact.AGENT_KILLED, Found.OUT_OF_MEMORY.word());
            }
        }
    }

    /** Documentation/ABI/testing/sysfs-class-watchdog, which needs CONFIG_WATCHDOG_SYSFS. */
    private void watchdog(BiConsumer<Fact, String> facts) throws IOException {
        List<Path> watchdogs = Bounded.list(root.resolve("sys/class/watchdog"));
        Found found = Found.ABSENT;
        int unread = 0;
        for (Path watchdog : watchdogs) {
            int status;
            try {
                status = Integer.decode(Bounded.text(watchdog.resolve("bootstatus"), SMALL_BYTES));
            } catch (IOException | NumberFormatException e) {
                unread++; // this one does not say
                continue;
            }
            if ((status & WATCHDOG_CARD_RESET) != 0) {
                found = Found.RESET;
                break;
            }
            if (found == Found.ABSENT || found == Found.NONE) {
                found = (status & WATCHDOG_OVERHEAT) != 0
                        ? Found.OVERHEAT
                        : (status & WATCHDOG_POWER_UNDER) != 0 ? Found.UNDER_VOLTAGE : Found.NONE;
            }
        }
        if (found == Found.ABSENT && unread > 0) {
            throw new IOException("its status at boot cannot be read");
        }
        facts.accept(Fact.WATCHDOG, found.word());
    }

    private static String seconds(Duration duration) {
        return BigDecimal.valueOf(duration.toMillis(), 3)
                .setScale(1, RoundingMode.HALF_UP)
                .toPlainString();
    }

    /** How good the evidence would be here if the machine died now. Loads and changes nothing. */
    public List<Quality> quality() {
        List<Quality> all = new ArrayList<>();
        all.add(quality(
                "system log of earlier boots",
                () -> {
                    if (inMemory.test(journalFolder())) {
                        throw new IOException(
                                "not persistent: /var/log/journal lies in memory, as on many live systems");
                    }
                    return "journal in /var/log/journal";
                },
                "as root, with /var/log on a disk: mkdir -p /var/log/journal && systemctl restart systemd-journald"
                        + " (journald.conf(5), Storage=)."
                        + " Without it an orderly shutdown and a death can only be told apart by wtmp"));
        all.add(quality(
                "crash records of the kernel",
                () -> {
                    String backEnd = new CrashStore(root).backEnd();
                    Bounded.list(root.resolve("sys/fs/pstore"));
                    return "pstore, kept by " + backEnd;
                },
                "as root, on a machine that boots by UEFI: modprobe efi_pstore pstore_disable=0 and mount -t pstore pstore"
                        + " /sys/fs/pstore (kernel parameter efi_pstore.pstore_disable=0 for good). Without it a kernel"
                        + " crash is never excluded"));
        all.add(quality(
                "login records",
                () -> {
                    Path file = root.resolve("var/log/wtmp");
                    if (!Files.exists(file) && Files.exists(root.resolve("var/lib/wtmpdb/wtmp.db"))) {
                        throw new IOException("this system keeps wtmpdb instead, which is not read");
                    }
                    if (LoginRecords.read(file).isEmpty()) {
                        throw new IOException("wtmp has no record of a start");
                    }
                    return "wtmp";
                },
                "not needed where the system log is kept"));
        all.add(quality(
                "watchdog",
                () -> {
                    for (Path watchdog : Bounded.list(root.resolve("sys/class/watchdog"))) {
                        if (Files.exists(watchdog.resolve("bootstatus"))) {
                            String name = Files.exists(watchdog.resolve("identity"))
                                    ? Bounded.text(watchdog.resolve("identity"), SMALL_BYTES)
                                    : "unnamed";
                            return Bounded.harmless(name, 60);
                        }
                    }
                    throw new IOException("none that tells its status at boot");
                },
                "nothing to do: a reset by a watchdog stays among the causes not excluded"));
        all.add(quality(
                "reset reasons of the chipset",
                () -> {
                    KernelText text = kernelText();
                    if (text.resetReasons().isPresent()) {
                        return "the kernel tells them";
                    }
                    throw new IOException(
                            text.whole() ? "the kernel tells none" : "the kernel's first messages are gone by now");
                },
                "kernels from 6.16 on tell them on AMD Zen processors; elsewhere nothing to do: heat, a button held down and"
                        + " a reset by firmware stay among the causes not excluded"));
        all.add(quality(
                "hardware errors kept by firmware",
                () -> {
                    if (!Files.exists(root.resolve("sys/firmware/acpi/tables/BERT"))) {
                        throw new IOException("firmware has no boot error record table");
                    }
                    kernelText();
                    return "boot error record table";
                },
                "nothing to do where firmware has no such table"));
        return all;
    }

    private interface Look {
        String found() throws IOException;
    }

    private Quality quality(String what, Look look, String whatToDo) {
        CompletableFuture<Quality> done = new CompletableFuture<>();
        Thread thread = new Thread(
                () -> {
                    try {
                        done.complete(new Quality(what, true, look.found(), ""));
                    } catch (IOException e) {
                        String why = Bounded.why(e);
                        done.complete(new Quality(
                                what,
                                false,
                                Bounded.harmless(why, 200),
                                why.equals("permission denied") ? "run as root to see whether it is there" : whatToDo));
                    } catch (RuntimeException e) {
                        done.complete(new Quality(what, false, e.getClass().getSimpleName(), whatToDo));
                    }
                },
                String.format(Locale.ROOT, "evidence: %s", what));
        thread.setDaemon(true);
        thread.start();
        try {
            return done.get(stepLimit.toMillis(), TimeUnit.MILLISECONDS);
        } catch (TimeoutException | ExecutionException e) {
            return new Quality(what, false, "no answer", whatToDo);
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
            return new Quality(what, false, "interrupted", whatToDo);
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import dev.loadwitness.agent.evidence.LastBoot;
import dev.loadwitness.agent.process.SystemProgram;
import dev.loadwitness.runlog.ending.Fact;
import dev.loadwitness.runlog.ending.Found;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.function.BiConsumer;

/** The persistent journal of the system: how the boot ended by it, and what the kernel said when that boot began. */
final class SystemJournal {
    private static final int MOST_BYTES = 8 << 20;
    private static final int KERNEL_BYTES = 2 << 20;
    private static final int MOST_ENTRIES = 3000;

    /**
     * Journal and samples of one boot have one clock, right or wrong. What could part them is a step of it just before the
     * end; journald writes every five minutes at the latest (journald.conf(5), SyncIntervalSec), so an end longer before the
     * last sample than twice that is taken for such a step where that clock was not right.
     */
    private static final Duration SILENT_MOST = Duration.ofMinutes(10);

    private final Path root;
    private final Duration limit;

    SystemJournal(Path root, Duration limit) {
        this.root = root;
        this.limit = limit;
    }

    void end(LastBoot last, BiConsumer<Fact, String> facts) throws IOException {
        List<Map<String, String>> entries = Journal.entries(
                ask(last, List.of("--lines=" + MOST_ENTRIES, "--output-fields=" + JournalEnd.FIELDS), MOST_BYTES, true)
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
            if (last.comparable().isPresent() || after.compareTo(SILENT_MOST.negated()) > 0) {
                facts.accept(Fact.SYSTEM_LOG_SECONDS, Bounded.seconds(after));
            }
        }
    }

    private SystemProgram.Answer ask(LastBoot last, List<String> more, int most, boolean whole) throws IOException {
        if (!ThisBoot.isKnown(last)) {
            throw new IOException("the log has no boot id to ask for");
        }
        Path folder = folder();
        List<String> command = new ArrayList<>(List.of(
                SystemProgram.find(root, "journalctl"),
                "--directory=" + folder,
                // Not --boot: it looks in the order of times, and misses the boot once a clock went back.
                "_BOOT_ID=" + last.bootId().replace("-", ""),
                "--output=export",
                "--no-pager",
                "--quiet"));
        command.addAll(more);
        SystemProgram.Answer answer = SystemProgram.ask(command, most, limit);
        if (answer.failed()) {
            throw new IOException("has nothing of that boot, or not for this user");
        }
        if (whole && answer.cut()) {
            throw new IOException("its last entries are larger than " + (most >> 20) + " MiB");
        }
        return answer;
    }

    /** The persistent journal's, if it holds any file. */
    Path folder() throws IOException {
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

    void resetReasonBefore(LastBoot last, BiConsumer<Fact, String> facts) throws IOException {
        SystemProgram.Answer answer =
                ask(last, List.of("_TRANSPORT=kernel", "--output-fields=MESSAGE"), KERNEL_BYTES, false);
        KernelText text = new KernelText(Journal.entries(answer.bytes()).stream()
                .map(e -> e.getOrDefault("MESSAGE", ""))
                .toList());
        if (!text.whole()) {
            throw new IOException("are no longer in the journal");
        }
        facts.accept(Fact.RESET_REASON_BEFORE, text.resetReasons().orElse(Found.NONE.word()));
    }
}

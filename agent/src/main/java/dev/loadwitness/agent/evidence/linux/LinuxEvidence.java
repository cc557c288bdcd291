// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.linux;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.agent.evidence.LastBoot;
import dev.loadwitness.agent.evidence.Quality;
import dev.loadwitness.agent.process.SpareThread;
import dev.loadwitness.runlog.ending.Fact;
import dev.loadwitness.runlog.ending.Found;
import java.io.IOException;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.concurrent.ExecutionException;
import java.util.concurrent.TimeoutException;
import java.util.function.BiConsumer;
import java.util.function.Predicate;

/**
 * Evidence of how a boot ended. Each kind is sought on a thread of its own that is given up when its time is over,
 * so that one file or program that never answers costs only its own facts.
 */
public final class LinuxEvidence {
    private static final Duration CHILD_LIMIT = Duration.ofSeconds(8);
    private static final Duration STEP_LIMIT = Duration.ofSeconds(10);

    private final Predicate<Path> inMemory;
    private final Duration stepLimit;
    private final ThisBoot boot;
    private final SystemJournal journal;
    private final Wtmp wtmp;
    private final CrashStore crashStore;
    private final KernelMessages kernel;
    private final Watchdogs watchdogs;

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
        this.inMemory = inMemory;
        this.stepLimit = stepLimit;
        this.boot = new ThisBoot(root);
        this.journal = new SystemJournal(root, childLimit);
        this.wtmp = new Wtmp(root);
        this.crashStore = new CrashStore(root);
        this.kernel = new KernelMessages(root, childLimit);
        this.watchdogs = new Watchdogs(root);
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
        step("boot id", facts, notLearned, f -> boot.same(last, f));
        boolean same = Found.YES.word().equals(facts.get(Fact.SAME_BOOT));
        step("crash report of the agent", facts, notLearned, f -> AgentDeath.crashed(last, f));
        if (same) {
            step("messages of the kernel", facts, notLearned, f -> AgentDeath.killed(last, kernel, boot, f));
        } else {
            step("time of this start", facts, notLearned, f -> boot.offSeconds(last, f));
            step("journal", facts, notLearned, f -> journal.end(last, f));
            step("first messages of that boot", facts, notLearned, f -> journal.resetReasonBefore(last, f));
            step("wtmp", facts, notLearned, f -> wtmp.learn(last, f));
            step("pstore", facts, notLearned, f -> crashStore.learn(last, f));
            step("messages of the kernel", facts, notLearned, kernel::learn);
            step("watchdog", facts, notLearned, watchdogs::learn);
        }
        Map<String, String> words = new LinkedHashMap<>();
        facts.forEach((fact, text) -> words.put(fact.word(), text));
        if (!notLearned.isEmpty()) {
            words.put(Fact.NOT_LEARNED.word(), Bounded.harmless(String.join("; ", notLearned), 1000));
        }
        return words;
    }

    private static String kind(ExecutionException e) {
        return requireNonNull(e.getCause(), "what the thread ended with")
                .getClass()
                .getSimpleName();
    }

    private void step(String what, Map<Fact, String> facts, List<String> notLearned, Step step) {
        try {
            facts.putAll(SpareThread.ask("evidence: " + what, stepLimit, () -> {
                Map<Fact, String> found = new LinkedHashMap<>();
                step.learn(found::put);
                return found;
            }));
        } catch (TimeoutException e) {
            notLearned.add(what + ": no answer");
        } catch (ExecutionException e) {
            notLearned.add(what + ": " + (e.getCause() instanceof IOException io ? Bounded.why(io) : kind(e)));
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
            notLearned.add(what + ": interrupted");
        }
    }

    /** How good the evidence would be here if the machine died now. Loads and changes nothing. */
    public List<Quality> quality() {
        List<Quality> all = new ArrayList<>();
        all.add(quality(
                "system log of earlier boots",
                this::qualityOfJournal,
                "as root, with /var/log on a disk: mkdir -p /var/log/journal && systemctl restart systemd-journald"
                        + " (journald.conf(5), Storage=)."
                        + " Without it an orderly shutdown and a death can only be told apart by wtmp"));
        all.add(quality(
                "crash records of the kernel",
                crashStore::quality,
                "as root, on a machine that boots by UEFI: modprobe efi_pstore pstore_disable=0 and mount -t pstore pstore"
                        + " /sys/fs/pstore (kernel parameter efi_pstore.pstore_disable=0 for good). Without it a kernel"
                        + " crash is never excluded"));
        all.add(quality("login records", wtmp::quality, "not needed where the system log is kept"));
        all.add(quality(
                "watchdog",
                watchdogs::quality,
                "nothing to do: a reset by a watchdog stays among the causes not excluded"));
        all.add(quality(
                "reset reasons of the chipset",
                kernel::qualityOfResetReasons,
                "kernels from 6.16 on tell them on AMD Zen processors; elsewhere nothing to do: heat, a button held down and"
                        + " a reset by firmware stay among the causes not excluded"));
        all.add(quality(
                "hardware errors kept by firmware",
                kernel::qualityOfHardwareErrors,
                "nothing to do where firmware has no such table"));
        return all;
    }

    private String qualityOfJournal() throws IOException {
        if (inMemory.test(journal.folder())) {
            throw new IOException("not persistent: /var/log/journal lies in memory, as on many live systems");
        }
        return "journal in /var/log/journal";
    }

    private interface Look {
        String found() throws IOException;
    }

    private Quality quality(String what, Look look, String whatToDo) {
        try {
            return new Quality(what, true, SpareThread.ask("evidence: " + what, stepLimit, look::found), "");
        } catch (ExecutionException e) {
            if (!(e.getCause() instanceof IOException io)) {
                return new Quality(what, false, kind(e), whatToDo);
            }
            String why = Bounded.why(io);
            return new Quality(
                    what,
                    false,
                    Bounded.harmless(why, 200),
                    why.equals("permission denied") ? "run as root to see whether it is there" : whatToDo);
        } catch (TimeoutException e) {
            return new Quality(what, false, "no answer", whatToDo);
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
            return new Quality(what, false, "interrupted", whatToDo);
        }
    }
}

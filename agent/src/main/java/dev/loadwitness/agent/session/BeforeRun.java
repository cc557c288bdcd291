// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.session;

import dev.loadwitness.agent.load.child.WorkerMain;
import dev.loadwitness.agent.place.Home;
import dev.loadwitness.agent.place.LogPlace;
import dev.loadwitness.agent.procedure.Terms;
import dev.loadwitness.agent.program.Exit;
import dev.loadwitness.agent.run.Guard;
import dev.loadwitness.agent.screen.Cautions;
import dev.loadwitness.agent.screen.Prompt;
import dev.loadwitness.agent.sensor.Discovery;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Sysexits;
import dev.loadwitness.runlog.command.Terminal;
import dev.loadwitness.runlog.procedure.Ask;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Stage;
import java.io.PrintStream;
import java.time.Duration;
import java.util.Arrays;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.stream.Collectors;

/** What is said, asked and refused between the reading of the arguments and the first thing that is touched. */
final class BeforeRun {
    private static final Duration BUDGET = Duration.ofMillis(500);

    /** Typed by somebody who has read the cautions; a mere Enter must not put a load on. */
    private static final String WORD = "load";

    private static final String LOAD = WorkerMain.class.getName();

    private BeforeRun() {}

    /**
     * The largest age of a record not yet on the disk that a run with this procedure states in its header: a sampling
     * period, and a second for a disk that is busy.
     */
    static Duration promised(Procedure procedure) {
        return procedure.samplingPeriod().plus(Duration.ofSeconds(1));
    }

    /** Looks at the log's disk, says the cautions and has them confirmed on a terminal, and makes the log's folder. */
    static void check(Procedure procedure, RunOptions options, Home home, PrintStream out, boolean terminal)
            throws Complaint {
        Optional<String> tooHigh = procedure.safety().tooHigh();
        if (tooHigh.isPresent()) {
            throw new Complaint(Sysexits.DATA, tooHigh.get() + ". Nothing was started; lower it in the procedure");
        }
        LogPlace place = LogPlace.look(options.workDir != null ? options.workDir : options.place(home), BUDGET);
        place.warnings(procedure.samplingPeriod()).forEach(out::println);
        place.check(procedure.samplingPeriod(), promised(procedure));
        boolean switchedOff = procedure.stages().stream().anyMatch(s -> s.asks().equals(Optional.of(Ask.POWER_OFF)));
        if (switchedOff && place.isInMemory()) {
            throw new Complaint(
                    Sysexits.CANNOT_CREATE,
                    "this procedure asks to switch the machine off, and the log would lie in its memory and be gone;"
                            + " choose a disk with --out, or leave those stages out with --skip-asks");
        }
        otherLoad().ifPresent(out::println);
        Cautions.LINES.forEach(out::println);
        if (!isConfirmed(procedure.stages(), options, terminal)) {
            throw new Complaint(Exit.STOPPED, "Nothing was started. (Scripts say --attended instead.)");
        }
        options.settle(home);
        out.println("The log goes to " + options.out.toAbsolutePath().normalize());
        out.flush();
    }

    /** Better refused now than at the stage, after those before it. */
    static void checkWatched(Procedure procedure, String name, Discovery discovery) throws Complaint {
        List<Channel> channels =
                discovery.sources().stream().flatMap(s -> s.channels().stream()).toList();
        Map<Role, Stage> unwatched = Guard.unwatched(procedure, channels);
        if (!unwatched.isEmpty()) {
            String what = unwatched.entrySet().stream()
                    .map(e -> e.getKey().word() + " (loaded by stage "
                            + e.getValue().id() + ")")
                    .collect(Collectors.joining(" and "));
            throw new Complaint(
                    Sysexits.UNAVAILABLE,
                    "no temperature sensor watches " + what + ", and " + name
                            + " does not allow that. Nothing was started. 'probe' says what is missing and how to get it;"
                            + " who stays beside the machine may set safety: unguarded: allow in a procedure of their own");
        }
    }

    /** A warning and no refusal: whose processes those are cannot be told, and a machine may be shared on purpose. */
    static Optional<String> otherLoad() {
        List<String> others = ProcessHandle.allProcesses()
                .filter(p ->
                        p.info().arguments().stream().flatMap(Arrays::stream).anyMatch(LOAD::equals))
                .map(p -> Long.toString(p.pid()))
                .toList();
        return others.isEmpty()
                ? Optional.empty()
                : Optional.of("A load of another run is on this machine (process " + String.join(", ", others)
                        + "). This run goes on all the same, but the two spoil each other's figures: end one of them with"
                        + " Ctrl-C in its terminal.");
    }

    /** Whether load may be put on: asked for on a terminal, unless nothing is loaded or somebody said that they stay. */
    private static boolean isConfirmed(List<Stage> stages, RunOptions options, boolean terminal) throws Complaint {
        return !Terms.hasLoad(stages) || !terminal || options.attended || isWordGiven();
    }

    /**
     * Whether load may be put on again. What is to be done stands in a log that anybody may have written; so never without
     * somebody who has seen just that: the word on a terminal, or its digest given by who stays with the machine.
     */
    static boolean isAgreed(Terms terms, List<Stage> left, RunOptions options, boolean terminal) throws Complaint {
        if (!Terms.hasLoad(left) || (options.attended && terms.digest().equals(options.asShown))) {
            return true;
        }
        return terminal && isWordGiven();
    }

    private static boolean isWordGiven() throws Complaint {
        return Prompt.answer(
                        Terminal.find().orElseThrow(),
                        "Type  " + WORD + "  and Enter to put the load on; anything else ends here: ")
                .equals(WORD);
    }
}

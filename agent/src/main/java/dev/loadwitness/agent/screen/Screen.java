// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.screen;

import dev.loadwitness.agent.run.Status;
import dev.loadwitness.agent.storage.StorageWatch;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import java.io.PrintStream;
import java.time.Duration;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import java.util.Optional;

/** Shows a run: on a terminal in letters that are read from three metres, elsewhere as a plain line now and then. */
public final class Screen {
    private static final String CLEAR = "\u001b[2J\u001b[H";
    private static final String HOME = "\u001b[H";
    private static final String END_OF_LINE = "\u001b[K\n";
    private static final String ALARM_COLOURS = "\u001b[7m";
    private static final String ORDINARY_COLOURS = "\u001b[0m";
    private static final char BEEP = '\u0007';
    private static final Duration PLAIN_EVERY = Duration.ofSeconds(10);

    private final PrintStream out;
    private final boolean terminal;
    private final List<String> heading;
    private final String log;
    private boolean drawn;
    private long nextNanos;
    private String lastStage = "";
    private String lastAsked = "";
    private boolean lastTrouble;
    private boolean everTrouble;

    public Screen(PrintStream out, boolean terminal, List<String> heading, String log) {
        this.out = out;
        this.terminal = terminal;
        this.heading = List.copyOf(heading);
        this.log = log;
    }

    /**
     * Call often; shows what is new about once a second on a terminal and every ten seconds elsewhere.
     *
     * @param trouble with the log's disk, to be shown loudly
     */
    public void show(Status status, Optional<StorageWatch.Warning> trouble, long nowNanos) {
        String asked = status.asked().map(a -> AskWords.of(a).large()).orElse("");
        boolean isNew =
                !status.stage().equals(lastStage) || trouble.isPresent() != lastTrouble || !asked.equals(lastAsked);
        if (nowNanos < nextNanos && !isNew && status.ended().isEmpty()) {
            return;
        }
        boolean alarm = (trouble.isPresent() && !lastTrouble) || (!asked.isEmpty() && !asked.equals(lastAsked));
        lastAsked = asked;
        boolean over = lastTrouble && trouble.isEmpty();
        lastStage = status.stage();
        lastTrouble = trouble.isPresent();
        everTrouble |= lastTrouble;
        if (terminal) {
            nextNanos = nowNanos + Duration.ofMillis(500).toNanos();
            draw(status, trouble);
            if (alarm) {
                out.print(BEEP);
            }
        } else {
            nextNanos = nowNanos + PLAIN_EVERY.toNanos();
            trouble.ifPresent(warning -> out.println(warning.large() + " " + warning.text()));
            if (over) {
                out.println("THE LOG'S DISK IS BACK, and everything that waited is on it");
            }
            out.println(plain(status));
        }
        out.flush();
    }

    private void draw(Status status, Optional<StorageWatch.Warning> trouble) {
        StringBuilder s = new StringBuilder(drawn ? HOME : CLEAR);
        drawn = true;
        boolean over = status.ended().isPresent();
        boolean whole = status.ended().filter(e -> e.startsWith("completed")).isPresent();
        heading.forEach(text -> line(s, text));
        String ordinary = status.asked().map(a -> AskWords.of(a).large()).orElse("RUNNING");
        String word = trouble.filter(warning -> warning.isFinal() || !over)
                .map(StorageWatch.Warning::large)
                .orElse(over ? (whole ? "DONE" : "STOPPED") : ordinary);
        for (String row : BlockLetters.rows(word)) {
            line(s, row);
        }
        line(
                s,
                trouble.map(warning -> ALARM_COLOURS + warning.text() + ORDINARY_COLOURS)
                        .orElse(everTrouble ? "The log's disk is back, and everything that waited is on it." : ""));
        if (over) {
            line(s, status.ended().orElseThrow());
            for (int i = 0; i < BlockLetters.ROWS; i++) {
                line(s, "");
            }
        } else {
            line(s, stageText(status));
            status.asked().ifPresent(a -> {
                AskWords.of(a).lines().forEach(text -> line(s, text));
                line(s, AskWords.SKIP);
            });
            for (String row : BlockLetters.rows(
                    clock(status.asked().map(Status.Asked::left).orElse(status.stageLeft())))) {
                line(s, row);
            }
        }
        line(s, "");
        line(s, (over ? "" : "whole run: " + clock(status.left()) + " left   ") + "log: " + log);
        line(s, readings(status));
        // Cautions stay where the user acts: on this screen, not scrolled away above it.
        // What is below goes: a long warning above may have wrapped and be gone now.
        s.append(String.join(END_OF_LINE, Cautions.LINES)).append("\u001b[K\u001b[J");
        if (over) {
            s.append('\n');
            s.append(BEEP); // the bench is noisy and the technician elsewhere
        }
        out.print(s);
    }

    private static void line(StringBuilder s, String text) {
        s.append(text).append(END_OF_LINE);
    }

    private static String stageText(Status status) {
        if (status.stage().isEmpty()) {
            return "starting";
        }
        if (status.asked().isPresent()) {
            return "stage " + status.stage() + " waits for you; no load is on. Time for it:";
        }
        return "stage " + status.stage() + (status.preparing() ? " (checking that a planted fault is noticed)" : "")
                + ", left:";
    }

    static String plain(Status status) {
        if (status.ended().isPresent()) {
            boolean whole = status.ended().get().startsWith("completed");
            return (whole ? "DONE " : "STOPPED ") + status.ended().get();
        }
        if (status.asked().isPresent()) {
            Status.Asked asked = status.asked().get();
            return AskWords.of(asked).plain() + " Stage " + status.stage() + " waits, without a load, for at most "
                    + clock(asked.left()) + "; " + readings(status);
        }
        return "RUNNING " + (status.stage().isEmpty() ? "starting" : "stage " + status.stage())
                + (status.preparing() ? " (checking that a planted fault is noticed)" : "") + ", "
                + clock(status.stageLeft()) + " left in it, " + clock(status.left()) + " in all; " + readings(status);
    }

    /** {@code 1:02:03} or {@code 2:03}. */
    public static String clock(Duration d) {
        long s = (d.toMillis() + 999) / 1000;
        return s >= 3600
                ? String.format(Locale.ROOT, "%d:%02d:%02d", s / 3600, s / 60 % 60, s % 60)
                : String.format(Locale.ROOT, "%d:%02d", s / 60, s % 60);
    }

    /** One line of what matters: hottest of each part, power, charge. */
    static String readings(Status status) {
        List<String> shown = new ArrayList<>();
        for (Role role : List.of(Role.CPU, Role.GPU_INTEGRATED, Role.GPU_DISCRETE, Role.BATTERY)) {
            double hottest = highest(status, role, Metric.TEMPERATURE);
            double power = highest(status, role, Metric.POWER);
            if (!Double.isNaN(hottest) || !Double.isNaN(power)) {
                shown.add(role.word()
                        + (Double.isNaN(hottest) ? "" : String.format(Locale.ROOT, " %.0f °C", hottest))
                        + (Double.isNaN(power) ? "" : String.format(Locale.ROOT, " %.0f W", power)));
            }
        }
        double charge = highest(status, Role.BATTERY, Metric.BATTERY_CHARGE);
        if (!Double.isNaN(charge)) {
            shown.add(String.format(Locale.ROOT, "charge %.0f %%", charge * 100));
        }
        double mains = highest(status, Role.ADAPTER, Metric.ADAPTER_ONLINE);
        if (!Double.isNaN(mains)) {
            shown.add(mains == 1 ? "on mains" : "ON BATTERY");
        }
        double errors = 0;
        for (int i = 0; i < status.values().size(); i++) {
            if (status.channels().get(i).measures(Metric.WORK_ERRORS)) {
                errors += status.values().get(i);
            }
        }
        shown.add(String.format(Locale.ROOT, "wrong results %.0f", errors));
        if (Double.isNaN(highest(status, Role.CPU, Metric.TEMPERATURE))) {
            shown.add(0, "no CPU temperature");
        }
        return String.join(" | ", shown);
    }

    private static double highest(Status status, Role role, Metric metric) {
        double highest = Double.NaN;
        for (int i = 0; i < status.values().size(); i++) {
            Channel c = status.channels().get(i);
            double value = status.values().get(i);
            if (c.is(role, metric) && !Double.isNaN(value)) {
                highest = Double.isNaN(highest) ? value : Math.max(highest, value);
            }
        }
        return highest;
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.text;

import dev.loadwitness.reporter.finding.Amount;
import dev.loadwitness.reporter.finding.Evidence;
import dev.loadwitness.reporter.finding.Finding;
import dev.loadwitness.reporter.finding.Limit;
import dev.loadwitness.reporter.finding.Measurement;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.finding.Table;
import dev.loadwitness.reporter.finding.Value;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.reporter.scan.series.Mark;
import dev.loadwitness.reporter.scan.series.Series;
import dev.loadwitness.reporter.scan.stage.StageSpan;
import dev.loadwitness.reporter.verdict.Verdict;
import dev.loadwitness.runlog.Attachment;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.file.line.Place;
import dev.loadwitness.runlog.jobsheet.JobSheet;
import dev.loadwitness.runlog.jobsheet.Power;
import dev.loadwitness.runlog.jobsheet.Rail;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import dev.loadwitness.runlog.procedure.DecisionRule;
import dev.loadwitness.runlog.procedure.LoadKind;
import dev.loadwitness.runlog.procedure.OnInterruption;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Safety;
import dev.loadwitness.runlog.procedure.Stage;
import java.time.Duration;
import java.time.Instant;
import java.time.LocalDate;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.Set;
import java.util.function.DoubleUnaryOperator;

/** Verdicts of an invented shop, for every layout to render. Nothing here was measured. */
public final class VerdictExamples {
    public static final String RUN = "3f9c1b7ad2e84c0f9a51c6d07be2f418";
    private static final String DIGEST = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08";

    private VerdictExamples() {}

    public static Verdict pass() {
        return verdict(
                Outcome.PASS,
                "Held full graphics load for 60 min without a break, 11 K below its own slowdown temperature.",
                passing(),
                header(false),
                job(),
                List.of(new Verdict.Attempt(1, RUN, "60 min qualified, closed", true)));
    }

    public static Verdict fail() {
        List<Finding> findings = new ArrayList<>(passing());
        findings.set(
                0,
                new Finding(
                        Criterion.SOAK_DURATION,
                        "gpu-discrete",
                        true,
                        Outcome.FAIL,
                        measured(Value.of(Amount.time(1308)), Limit.atLeast(Amount.time(3600)), "procedure"),
                        "The longest stretch under the demanded load ended with the interruption.",
                        List.of(evidence(1309, 0, 1308, "last whole sample before the restart")),
                        List.of()));
        findings.set(
                2,
                new Finding(
                        Criterion.INTERRUPTIONS,
                        "",
                        true,
                        Outcome.FAIL,
                        measured(Value.of(Amount.count(1)), Limit.said("none"), "default"),
                        "The machine lost power while warm and steady; a hang and a thermal trip are excluded.",
                        List.of(
                                evidence(1310, 0, 1308, "torn tail of 41 bytes, declared by the next boot"),
                                evidence(1311, 1, 0, "boot 2, no orderly shutdown recorded")),
                        List.of(
                                new Table(
                                        "Interruption, causes",
                                        List.of("Cause", "Standing", "Evidence"),
                                        List.of(
                                                List.of("power-loss", "not excluded", "leaves no record"),
                                                List.of(
                                                        "kernel-crash",
                                                        "excluded",
                                                        "the store for crash records was there and holds no record, or"
                                                                + " none of a crash"))),
                                new Table(
                                        "Interruption, last minute of the discrete GPU",
                                        List.of("Time", "Stage", "Power", "Temperature"),
                                        List.of(
                                                List.of("-60.0 s", "discrete-mix", "149 W", "71 °C"),
                                                List.of("0.0 s", "discrete-mix", "151 W", "\u001B[31m72 °C"))))));
        return verdict(
                Outcome.FAIL,
                "Died after 22 min, cold and steady: suspect the power path.",
                findings,
                header(false),
                job(),
                List.of(
                        new Verdict.Attempt(1, "0a".repeat(16), "log not given; the journal saw no close", false),
                        new Verdict.Attempt(2, "0b".repeat(16), "41 min qualified, then shut off", true),
                        new Verdict.Attempt(3, RUN, "22 min qualified, then shut off", true)));
    }

    public static Verdict inconclusive() {
        List<Finding> findings = new ArrayList<>(passing());
        findings.set(
                3,
                new Finding(
                        Criterion.TEMPERATURE_CEILING,
                        "gpu-discrete",
                        true,
                        Outcome.NOT_MEASURED,
                        Measurement.NONE,
                        "No temperature sensor of the discrete GPU answered.",
                        List.of(),
                        List.of()));
        findings.set(
                5,
                new Finding(
                        Criterion.CLOCK_HELD,
                        "gpu-discrete",
                        false,
                        Outcome.INCONCLUSIVE,
                        uncertain(
                                Value.of(Amount.percent(0.952)),
                                Limit.atLeast(Amount.percent(0.95)),
                                "default",
                                Amount.percent(0.009),
                                0.67),
                        "The rate held lies inside the guard band.",
                        List.of(),
                        List.of()));
        return verdict(
                Outcome.INCONCLUSIVE,
                "Cannot be judged: no temperature sensor of the discrete GPU answered.",
                findings,
                header(false),
                job(),
                List.of(new Verdict.Attempt(1, RUN, "60 min qualified, closed", true)));
    }

    /** A pass of a machine that was never there. */
    public static Verdict simulatedPass() {
        Verdict v = pass();
        return verdict(v.outcome(), v.sentence(), v.findings(), header(true), v.jobSheet(), v.attempts());
    }

    /** A pass whose header says that these were left out on request. */
    public static Verdict withheld(String... what) {
        Header h = header(false);
        Map<String, Map<String, String>> facts = new LinkedHashMap<>(h.facts());
        facts.put("machine", new LinkedHashMap<>(Map.of("serial", "AWK17-004711")));
        Header header = new Header(
                h.runId(),
                h.utc(),
                h.ticket(),
                h.nonce(),
                h.earlier(),
                false,
                facts,
                List.of(what),
                h.agentVersion(),
                h.procedure(),
                h.jobSheet(),
                h.ambientCelsius(),
                h.ambientHow(),
                h.undurable());
        Verdict v = pass();
        return verdict(v.outcome(), v.sentence(), v.findings(), header, v.jobSheet(), v.attempts());
    }

    /** Nothing filled in that may be left out. */
    public static Verdict bare() {
        Header header = new Header(
                RUN,
                Instant.parse("2026-11-25T09:00:00Z"),
                "",
                "",
                List.of(),
                false,
                Map.of(),
                List.of(),
                "",
                new Attachment("p.yaml", "", DIGEST),
                Optional.empty(),
                OptionalDouble.empty(),
                "",
                Duration.ofSeconds(1));
        return new Verdict(
                Outcome.NOT_MEASURED,
                "",
                List.of(),
                List.of(),
                "",
                header,
                new Procedure(
                        "",
                        "",
                        Duration.ofSeconds(1),
                        List.of(),
                        Set.of(),
                        new Safety(Map.of(), Duration.ofSeconds(10), true, false),
                        OnInterruption.STOP,
                        DecisionRule.SIMPLE,
                        List.of()),
                false,
                Optional.empty(),
                List.of(),
                List.of(),
                List.of(),
                "");
    }

    /** Forty findings, three alphabets, texts longer than a page and words longer than a line. */
    public static Verdict extreme() {
        String german = "Grafikkern-Spannungswandler, Überhitzungsschutz, Gehäuselüfter größer als üblich";
        String greek = "Θερμοκρασία επεξεργαστή γραφικών, καλώδιο τροφοδοσίας";
        String russian = "Графический процессор, блок питания, нагрев под нагрузкой";
        String endless = "W".repeat(400);
        List<Finding> findings = new ArrayList<>();
        Criterion[] all = Criterion.values();
        Outcome[] outcomes = Outcome.values();
        for (int i = 0; i < 40; i++) {
            boolean huge = i == 17;
            findings.add(new Finding(
                    all[i % all.length],
                    i % 3 == 0 ? "gpu-discrete" : i == 4 ? endless : "",
                    i % 4 != 0,
                    outcomes[i % outcomes.length],
                    new Measurement(
                            i == 5
                                    ? Value.said("123456789.123456789 units of an unusually long name")
                                    : Value.of(Amount.celsius(84.2)),
                            i == 6 ? Limit.said("x".repeat(60)) : Limit.atMost(Amount.celsius(92)),
                            i % 2 == 0 ? "device" : "procedure, after the limit of the device was exchanged by hand",
                            i % 5 == 0 ? Optional.empty() : Optional.of(Amount.kelvin(4)),
                            i % 2 == 0 ? OptionalDouble.of(i / 39.0) : OptionalDouble.empty()),
                    huge
                            ? "finding-" + i + "-begin " + (german + "; " + greek + "; " + russian + ". ").repeat(40)
                                    + " finding-" + i + "-end"
                            : "finding-" + i + "-begin "
                                    + List.of(german, greek, russian).get(i % 3) + " finding-" + i + "-end",
                    i % 2 == 0 ? List.of(evidence(800 + i, 0, 1334, "evidence-" + i)) : List.of(),
                    List.of()));
        }
        Map<String, Map<String, String>> facts = new LinkedHashMap<>();
        facts.put("machine", Map.of("make", endless, "model", german));
        facts.put("gpu", Map.of("name", greek));
        Header plain = header(false);
        Header header = new Header(
                RUN,
                plain.utc(),
                "FBR-" + "0".repeat(120),
                "Wörterbuch",
                List.of(),
                true,
                facts,
                List.of("host"),
                plain.agentVersion(),
                plain.procedure(),
                plain.jobSheet(),
                OptionalDouble.of(23.5),
                russian,
                Duration.ofSeconds(1));
        JobSheet base = job().orElseThrow();
        JobSheet job = new JobSheet(
                base.ticket(),
                new JobSheet.Issuer(greek, russian, german, endless, endless),
                new JobSheet.Intake(
                        (german + " ").repeat(10),
                        endless,
                        base.received(),
                        (russian + ". ").repeat(30),
                        endless,
                        List.of()),
                new JobSheet.Machine(endless, "AW-17 Kestrel " + "long name ".repeat(60), "S".repeat(300)),
                new JobSheet.Repair(
                        List.of(endless),
                        List.of(german, greek, russian, endless),
                        List.of(greek),
                        endless,
                        List.of(endless)),
                new Power(
                        OptionalDouble.of(150),
                        endless,
                        new Power.Adapter(OptionalDouble.of(230), endless, Optional.empty(), Optional.empty()),
                        new Power.Battery(greek, endless, Optional.empty()),
                        Power.WallMeter.NONE),
                new JobSheet.Bench(
                        OptionalDouble.empty(), endless, List.of(new JobSheet.Instrument(endless, greek, endless))),
                List.of(Rail.of(endless, OptionalDouble.of(0.4), OptionalDouble.empty(), OptionalDouble.of(0.85), "")),
                List.of(new JobSheet.HandCheck(german, JobSheet.HandCheck.State.OPEN, endless)),
                new JobSheet.Closing(endless, Optional.of(false), List.of(new JobSheet.Photo(greek, DIGEST, endless))),
                Map.of(Criterion.MEMORY_ERRORS, greek),
                DIGEST);
        List<Verdict.Attempt> attempts = new ArrayList<>();
        for (int i = 1; i <= 25; i++) {
            attempts.add(new Verdict.Attempt(i, String.format(java.util.Locale.ROOT, "%032x", i), german, i % 2 == 0));
        }
        return verdict(
                Outcome.FAIL,
                "Tab\tand\u0007bell, an \u001B[31mescape\u001B[0m, 電源, 𝄞 and <b>&amp;</b> " + (greek + " ").repeat(8),
                findings,
                header,
                Optional.of(job),
                attempts);
    }

    public static List<StageSpan> stages() {
        return List.of(
                new StageSpan("idle", 0, 0, 300, "completed"),
                new StageSpan("integrated soak", 0, 300, 900, "completed"),
                new StageSpan("discrete soak", 0, 900, 4500, "completed"),
                new StageSpan("load steps", 0, 4500, 4620, "completed"),
                new StageSpan("cool-down", 0, 4620, 4920, "completed"));
    }

    public static List<Mark> marks() {
        return List.of(
                new Mark(0, 295, "planted miscomputation caught"),
                new Mark(0, 898, "planted dropout caught"),
                new Mark(0, 2400, "operator note: lid closed a hand's breadth"),
                new Mark(0, 2410, "limit changed: gpu.discrete.power.limit from 150 W to 140 W"));
    }

    /** A warm-up of minutes with noise, over the stages above. */
    public static List<Series> series() {
        DoubleUnaryOperator load = t -> t < 900 ? 0.08 : t < 4500 ? 1 : t < 4620 ? (t % 10 < 5 ? 1 : 0.1) : 0.05;
        DoubleUnaryOperator rise =
                t -> t < 900 ? 0 : t < 4620 ? 1 - Math.exp(-(t - 900) / 240) : Math.exp(-(t - 4620) / 120);
        return List.of(
                line(
                        Channel.of("cpu.package.temperature", Metric.TEMPERATURE, Role.CPU, "hwmon/coretemp")
                                .withComponent("", "Package id 0")
                                .withQuality(1, 1)
                                .withLimits(Map.of(LimitType.HIGH_CRITICAL, 105.0)),
                        t -> 46 + 22 * rise.applyAsDouble(t)),
                line(
                        Channel.of("gpu.discrete.temperature", Metric.TEMPERATURE, Role.GPU_DISCRETE, "gpu")
                                .withQuality(1, Double.NaN)
                                .withLimits(Map.of(LimitType.THROTTLED, 87.0, LimitType.HIGH_CRITICAL, 98.0)),
                        t -> 41 + 35 * rise.applyAsDouble(t)),
                line(
                        Channel.of("gpu.discrete.clock", Metric.GPU_CLOCK, Role.GPU_DISCRETE, "gpu"),
                        t -> 2.1e8 + 1.75e9 * load.applyAsDouble(t)),
                line(
                        Channel.of("cpu.clock", Metric.CPU_CLOCK, Role.CPU, "cpufreq"),
                        t -> 4.2e9 - 6e8 * rise.applyAsDouble(t)),
                line(
                        Channel.of("gpu.discrete.power", Metric.POWER, Role.GPU_DISCRETE, "gpu"),
                        t -> 9 + 138 * load.applyAsDouble(t)),
                line(
                        Channel.of("gpu.discrete.power.limit", Metric.POWER_LIMIT, Role.GPU_DISCRETE, "gpu"),
                        t -> t < 2410 || t > 2700 ? 150 : 140),
                line(
                        Channel.of("cpu.package.energy", Metric.ENERGY, Role.CPU, "powercap"),
                        t -> 12 + 20 * load.applyAsDouble(t)),
                line(
                        Channel.of("gpu.discrete.work.verified", Metric.WORK_VERIFIED, Role.GPU_DISCRETE, "load"),
                        t -> t < 900 || t > 4620 ? Double.NaN : 3.4e6 * load.applyAsDouble(t)));
    }

    /** Twelve temperatures of long names, three restarts and more, gaps, and numbers that are none. */
    public static List<Series> crowded() {
        List<Series> all = new ArrayList<>();
        for (int i = 0; i < 12; i++) {
            Channel channel = Channel.of("board.sensor-" + i + ".temperature", Metric.TEMPERATURE, Role.BOARD, "hwmon")
                    .withComponent("", "Датчик Θερμοκρασία Gehäuse " + "very long label ".repeat(i) + i)
                    .withLimits(Map.of(LimitType.THROTTLED, 80.0 + i, LimitType.MAX, Double.NaN));
            int number = i;
            for (int segment = 0; segment < 6; segment++) {
                all.add(line(
                        channel,
                        segment,
                        segment == 1 ? 20 : 2000,
                        t -> number == 3 && t > 700 && t < 900 ? Double.NaN : 50.2 + 0.01 * number));
            }
        }
        Channel odd = Channel.of("odd.power", Metric.POWER, Role.ADAPTER, "odd");
        all.add(new Series(odd, 0, 0, 1, new double[] {}, new double[] {}, new double[] {}));
        all.add(new Series(
                Channel.of("flat.power", Metric.POWER, Role.CPU, "flat"),
                0,
                0,
                1,
                new double[] {0},
                new double[] {0, Double.POSITIVE_INFINITY, Double.NaN, 0},
                new double[] {}));
        return all;
    }

    /** Too many events to letter, and stages too short for their names. */
    /** Each quantity of each part that a well-equipped laptop has, as they might run. */
    public static List<Series> fortyChannels() {
        List<Series> all = new ArrayList<>(series());
        Role[] roles = {Role.BOARD, Role.MEMORY, Role.STORAGE, Role.BATTERY, Role.CPU, Role.GPU_INTEGRATED};
        Metric[] metrics = {Metric.TEMPERATURE, Metric.TEMPERATURE, Metric.POWER, Metric.CPU_CLOCK, Metric.VOLTAGE};
        for (int i = 0; all.size() < 40; i++) {
            Role role = roles[i % roles.length];
            Metric metric = metrics[i % metrics.length];
            double level = metric.equals(Metric.TEMPERATURE)
                    ? 38 + i
                    : metric.equals(Metric.CPU_CLOCK) ? 3.1e9 + 2e7 * i : 3 + i;
            all.add(line(
                    Channel.of(role.word() + "." + metric.name() + "-" + i, metric, role, "hwmon/chip-" + i)
                            .withComponent("", "sensor " + i)
                            .withQuality(1, 0.5),
                    t -> level * (1 + 0.2 * (1 - Math.exp(-t / 900)))));
        }
        return all;
    }

    public static List<StageSpan> twelveStages() {
        List<StageSpan> stages = new ArrayList<>();
        String[] names = {
            "idle",
            "ramp",
            "integrated-soak",
            "core",
            "memory",
            "discrete-soak",
            "load-steps",
            "cool-down",
            "cold-start",
            "repeat-soak",
            "sleep-and-resume",
            "last-idle"
        };
        for (int i = 0; i < names.length; i++) {
            stages.add(new StageSpan(names[i], 0, 410 * i, 410 * i + 400, i == 11 ? "interrupted" : "completed"));
        }
        return stages;
    }

    public static List<Mark> threeHundredMarks() {
        List<Mark> marks = new ArrayList<>();
        String[] texts = {"limit changed", "adapter off", "adapter on", "compute error", "worker stalled"};
        for (int i = 0; i < 300; i++) {
            marks.add(new Mark(0, 16.3 * i, texts[i % texts.length]));
        }
        return marks;
    }

    public static List<Mark> manyMarks() {
        List<Mark> marks = new ArrayList<>();
        for (int i = 0; i < 310; i++) {
            marks.add(new Mark(i % 3, 2.0 * i, "event " + i + " Überhitzung " + "long ".repeat(i % 30)));
        }
        marks.add(new Mark(9, 5, "in a stretch without readings"));
        return marks;
    }

    public static List<StageSpan> manyStages() {
        List<StageSpan> stages = new ArrayList<>();
        for (int i = 0; i < 40; i++) {
            stages.add(new StageSpan("stage of an unusually long name " + i, i % 2, 20 * i, 20 * i + 15, "completed"));
        }
        return stages;
    }

    public static Series line(Channel channel, DoubleUnaryOperator value) {
        return line(channel, 0, 4920, value);
    }

    public static Series line(Channel channel, int segment, double seconds, DoubleUnaryOperator value) {
        int bins = 820;
        double width = seconds / bins;
        double[] mean = new double[bins];
        double[] low = new double[bins];
        double[] high = new double[bins];
        java.util.Random noise = new java.util.Random(channel.id().hashCode());
        for (int i = 0; i < bins; i++) {
            double v = value.applyAsDouble((i + 0.5) * width);
            double spread = Math.abs(v) * 0.012;
            mean[i] = v + spread * (noise.nextDouble() - 0.5);
            low[i] = mean[i] - spread * noise.nextDouble();
            high[i] = mean[i] + spread * noise.nextDouble();
        }
        return new Series(channel, segment, 0, width, low, mean, high);
    }

    private static Verdict verdict(
            Outcome outcome,
            String sentence,
            List<Finding> findings,
            Header header,
            Optional<JobSheet> job,
            List<Verdict.Attempt> attempts) {
        return new Verdict(
                outcome,
                sentence,
                findings,
                List.of(
                        "Battery charge was not measured: charging is not judged.",
                        "The rated graphics power of 150 W is the technician's statement."),
                "1",
                header,
                procedure(),
                true,
                job,
                attempts,
                List.of(
                        "All attempts together: 60 min under the demanded load, no failure.",
                        "Mean time between failures of this machine under this load: at least 20 min at 95 %"
                                + " confidence, if the rate is constant."),
                List.of("d2a84f4b8b650937ec8f73cd8be2c74add5a911ba64df27458ed8229da804a26"),
                "6b86b273ff34fce19d6b804eff5a3f5747ada4eaa22f1d49c01e52ddb7875b4b");
    }

    private static List<Finding> passing() {
        return List.of(
                passed(
                        Criterion.SOAK_DURATION,
                        "gpu-discrete",
                        measured(Value.of(Amount.time(3604)), Limit.atLeast(Amount.time(3600)), "procedure"),
                        "Work was verified throughout and power stayed above 85 % of 150 W."),
                passed(
                        Criterion.LIMIT_WITHDRAWN,
                        "gpu-discrete",
                        measured(Value.of(Amount.watts(150)), Limit.atLeast(Amount.watts(147)), "job sheet"),
                        "The limit in force never fell on mains."),
                passed(Criterion.INTERRUPTIONS, "", none(), "The run ended when it was told to."),
                passed(
                        Criterion.TEMPERATURE_CEILING,
                        "gpu-discrete",
                        uncertain(
                                Value.of(Amount.celsius(76.1)),
                                Limit.atMost(Amount.celsius(82)),
                                "device (87 °C) less 5 K",
                                Amount.kelvin(0.6),
                                0.9996),
                        "The hottest minute stays below its own slowdown temperature."),
                passed(
                        Criterion.THROTTLE,
                        "gpu-discrete",
                        measured(Value.said("0 episodes"), Limit.said("0"), "default"),
                        "None was counted."),
                passed(
                        Criterion.CLOCK_HELD,
                        "gpu-discrete",
                        uncertain(
                                Value.of(Amount.percent(0.991)),
                                Limit.atLeast(Amount.percent(0.95)),
                                "default",
                                Amount.percent(0.004),
                                0.9996),
                        "The last ten minutes did as much verified work as the first settled ten."),
                passed(Criterion.COMPUTE_ERRORS, "gpu-discrete", none(), "No result was wrong."),
                passed(Criterion.MEMORY_ERRORS, "memory", none(), "The march test found no fault."),
                passed(
                        Criterion.EVIDENCE,
                        "",
                        measured(Value.of(Amount.percent(0.9997)), Limit.atLeast(Amount.percent(0.99)), "default"),
                        "The log is whole and closed; the planted errors were caught."));
    }

    private static Finding passed(Criterion criterion, String subject, Measurement measurement, String because) {
        return new Finding(
                criterion,
                subject,
                true,
                Outcome.PASS,
                measurement,
                because,
                List.of(evidence(4102, 0, 3674, criterion.word() + " decided here")),
                List.of());
    }

    private static Measurement none() {
        return measured(Value.of(Amount.count(0)), Limit.atMost(Amount.count(0)), "default");
    }

    private static Measurement measured(Value value, Limit limit, String origin) {
        return new Measurement(value, limit, origin, Optional.empty(), OptionalDouble.empty());
    }

    private static Measurement uncertain(Value value, Limit limit, String origin, Amount expanded, double conformity) {
        return new Measurement(value, limit, origin, Optional.of(expanded), OptionalDouble.of(conformity));
    }

    private static Evidence evidence(long line, int segment, double seconds, String text) {
        return Evidence.of(new At(new Place(1, line, 0), segment, seconds), text);
    }

    private static Header header(boolean simulated) {
        Map<String, Map<String, String>> facts = new LinkedHashMap<>();
        facts.put("machine", new LinkedHashMap<>(Map.of("make", "Alder Works")));
        facts.put("gpu", new LinkedHashMap<>(Map.of("discrete", "Corvid G7 150W")));
        facts.put("os", new LinkedHashMap<>(Map.of("kernel", "6.1")));
        return new Header(
                RUN,
                Instant.parse("2026-11-25T09:00:00Z"),
                "FBR-2026-0142",
                "heron-4471",
                List.of(),
                simulated,
                facts,
                List.of(),
                "0.1.0",
                new Attachment("gpu-power-repair.yaml", "", DIGEST),
                Optional.of(new Attachment("job.yaml", "", DIGEST)),
                OptionalDouble.of(23.5),
                "thermometer 30 cm from the intake",
                Duration.ofSeconds(1));
    }

    private static Optional<JobSheet> job() {
        return Optional.of(new JobSheet(
                "FBR-2026-0142",
                new JobSheet.Issuer("Fernhollow Board Repair", "M. Okonjo-Vale", "", "", ""),
                new JobSheet.Intake(
                        "Customer 88",
                        "",
                        Optional.of(LocalDate.of(2026, 11, 20)),
                        "Switches off after ten to thirty minutes of play, restarts cold.",
                        "",
                        List.of(12.0, 28.0)),
                new JobSheet.Machine("Alder Works", "AW-17 Kestrel", "AWK17-004711"),
                new JobSheet.Repair(
                        List.of(),
                        List.of("replaced one power stage of the graphics core rail", "refitted heatsink, new pads"),
                        List.of(),
                        "graphics core",
                        List.of()),
                new Power(
                        OptionalDouble.of(150),
                        "",
                        new Power.Adapter(OptionalDouble.of(230), "", Optional.empty(), Optional.empty()),
                        Power.Battery.NONE,
                        Power.WallMeter.NONE),
                JobSheet.Bench.NONE,
                List.of(
                        Rail.of(
                                "graphics core",
                                OptionalDouble.of(0.2),
                                OptionalDouble.of(0.9),
                                OptionalDouble.of(0.81),
                                "idle"),
                        Rail.of("5 V", OptionalDouble.empty(), OptionalDouble.of(310), OptionalDouble.of(5.03), "")),
                List.of(
                        new JobSheet.HandCheck("display, all corners", JobSheet.HandCheck.State.DONE, ""),
                        new JobSheet.HandCheck(
                                "USB ports",
                                JobSheet.HandCheck.State.OPEN,
                                "left rear port not present on this board")),
                JobSheet.Closing.NONE,
                Map.of(),
                DIGEST));
    }

    private static Procedure procedure() {
        return new Procedure(
                "gpu-power-repair",
                "Graphics rail repair: 60 min soak",
                Duration.ofSeconds(1),
                List.of(new Stage(
                        "discrete soak",
                        List.of(LoadKind.GPU_MIX),
                        Optional.of(Role.GPU_DISCRETE),
                        Optional.of(Role.GPU_DISCRETE),
                        Duration.ofMinutes(60),
                        0.5)),
                Set.of(),
                new Safety(Map.of(Role.GPU_DISCRETE, 95.0), Duration.ofSeconds(10), true, false),
                OnInterruption.STOP,
                new DecisionRule(1),
                Arrays.stream(Criterion.values())
                        .map(c -> new CriterionSetting(c, true, Map.of()))
                        .toList());
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import dev.loadwitness.reporter.chart.ChartGroup;
import dev.loadwitness.reporter.finding.Outcome;
import dev.loadwitness.reporter.scan.follow.At;
import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.file.line.Place;
import java.time.Instant;
import java.time.ZoneOffset;
import java.time.format.DateTimeFormatter;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Locale;
import java.util.Map;

/** The words of the vocabulary as the page writes them. */
final class Names {
    private static final DateTimeFormatter SECOND = DateTimeFormatter.ofPattern(
                    "uuuu-MM-dd HH:mm:ss 'UTC'", Locale.ROOT)
            .withZone(ZoneOffset.UTC);

    private Names() {}

    static String utc(Instant instant) {
        return SECOND.format(instant);
    }

    static String clock(int segment, double seconds) {
        return new At(new Place(1, 0, 0), segment, seconds).clock();
    }

    /** {@code NOT MEASURED}. */
    static String loud(Outcome outcome) {
        return outcome.word().toUpperCase(Locale.ROOT).replace('-', ' ');
    }

    /** Of a whole run, what was not decided is inconclusive, whatever the reason. */
    static Outcome ofRun(Outcome outcome) {
        return outcome == Outcome.PASS || outcome == Outcome.FAIL ? outcome : Outcome.INCONCLUSIVE;
    }

    static String role(Role role) {
        return switch (role) {
            case CPU -> "CPU";
            case GPU_DISCRETE -> "Discrete GPU";
            case GPU_INTEGRATED -> "Integrated GPU";
            default -> capital(role.word());
        };
    }

    static String capital(String word) {
        return word.isEmpty() ? word : word.substring(0, 1).toUpperCase(Locale.ROOT) + word.substring(1);
    }

    /** A short name for each channel by id, unlike any other in the same chart. */
    static Map<String, String> of(List<Channel> channels) {
        Map<String, String> names = new LinkedHashMap<>();
        for (Channel c : channels) {
            String plain = plain(c);
            boolean alone = channels.stream()
                    .noneMatch(o ->
                            !o.id().equals(c.id()) && ChartGroup.of(o) == ChartGroup.of(c) && plain(o).equals(plain));
            if (alone) {
                names.put(c.id(), plain);
                continue;
            }
            String told = c.label().isBlank() ? c.id() : c.label();
            boolean tells = channels.stream()
                    .noneMatch(o -> !o.id().equals(c.id())
                            && ChartGroup.of(o) == ChartGroup.of(c)
                            && plain(o).equals(plain)
                            && (o.label().isBlank() ? o.id() : o.label()).equals(told));
            names.put(c.id(), plain + ", " + (tells ? told : c.id()));
        }
        return names;
    }

    private static String plain(Channel c) {
        String role = role(c.role());
        String metric = c.metric().name();
        if (c.cause().isPresent()) {
            String how = metric.equals(Metric.THROTTLE_TIME.name())
                    ? " (time)"
                    : metric.equals(Metric.THROTTLE_COUNT.name()) ? " (count)" : "";
            return role + ": " + c.cause().get().word().replace('-', ' ') + how;
        }
        Map<String, String> added = Map.ofEntries(
                Map.entry(Metric.POWER_LIMIT.name(), " limit in force"),
                Map.entry(Metric.ENERGY.name(), ", energy counter"),
                Map.entry(Metric.POWER_HIGHEST.name(), " highest"),
                Map.entry(Metric.POWER_LOWEST.name(), " lowest"),
                Map.entry(Metric.GPU_MEMORY_CLOCK.name(), " memory"),
                Map.entry(Metric.WORK_ERRORS.name(), ": work found wrong"),
                Map.entry(Metric.HARDWARE_ERRORS.name(), ": uncorrected errors"),
                Map.entry(Metric.CORRECTED_ERRORS.name(), ": corrected errors"),
                Map.entry(Metric.PCIE_REPLAYS.name(), ": packets sent again"),
                Map.entry(Metric.DEVICE_AWAKE.name(), ": awake"),
                Map.entry(Metric.BATTERY_CHARGE_START.name(), " begins to charge below"),
                Map.entry(Metric.BATTERY_CHARGE_END.name(), " ends charging at"),
                Map.entry(Metric.BATTERY_STATE.name(), ": 1 charging, −1 discharging, 2 full"),
                Map.entry(Metric.ADAPTER_ONLINE.name(), " feeds the machine"),
                Map.entry(Metric.PERFORMANCE_STATE.name(), " performance state"),
                Map.entry(Metric.PCIE_GENERATION.name(), " PCI Express generation"),
                Map.entry(Metric.PCIE_WIDTH.name(), " PCI Express lanes"));
        if (c.role() == Role.FAN) {
            return "Fan "
                    + c.id().replaceFirst("^fan\\.", "")
                            .replaceFirst("\\.speed$", "")
                            .replace('.', ' ');
        }
        if (ChartGroup.of(c) == ChartGroup.OTHER) {
            return c.id() + ", " + c.metric().unit();
        }
        return role + added.getOrDefault(metric, "");
    }

    static String limit(LimitType type) {
        return switch (type) {
            case HIGH_CRITICAL -> "switches off";
            case HIGH_DEGRADED -> "too high for its maker";
            case THROTTLED -> "slows itself down";
            case MAX -> "highest it is made for";
            case LOW_DEGRADED -> "too low for its maker";
            case LOW_CRITICAL -> "lowest possible";
        };
    }

    /** {@code 71}, {@code 149.8}, {@code 0.0312}: as many digits as a reader uses. */
    static String number(double value) {
        if (Double.isNaN(value)) {
            return "–";
        }
        double size = Math.abs(value);
        int decimals = size == Math.rint(size) || size >= 1000 ? 0 : size >= 100 ? 1 : size >= 1 ? 2 : 4;
        String digits = String.format(Locale.ROOT, "%." + decimals + "f", value);
        return digits.contains(".") ? digits.replaceFirst("0+$", "").replaceFirst("\\.$", "") : digits;
    }

    /** {@code 1 h 2 min}, {@code 22 min 14 s}, {@code 9.5 s}. */
    static String duration(double seconds) {
        if (seconds < 60) {
            return number(Math.round(seconds * 10) / 10.0) + " s";
        }
        long whole = Math.round(seconds);
        return whole >= 3600
                ? whole / 3600 + " h " + whole / 60 % 60 + " min"
                : whole / 60 + " min" + (whole % 60 == 0 ? "" : " " + whole % 60 + " s");
    }
}

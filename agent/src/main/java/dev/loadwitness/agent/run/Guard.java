// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.run;

import dev.loadwitness.runlog.Channel;
import dev.loadwitness.runlog.LimitType;
import dev.loadwitness.runlog.Metric;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.Safety;
import dev.loadwitness.runlog.procedure.Stage;
import java.util.Arrays;
import java.util.EnumSet;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.OptionalDouble;
import java.util.Set;
import java.util.stream.IntStream;
import org.jspecify.annotations.Nullable;

/** Decides from each sample whether the load must come off. */
public final class Guard {
    private final Safety safety;
    private final List<Channel> channels;
    /** Above which a reading takes the load off, and who says so; null where a channel guards nothing. */
    private final Ceiling[] ceilings;

    private final StalledFans fans;
    private final boolean[] answered;
    private final long[] silentSinceNanos;
    private Optional<Boolean> onMains = Optional.empty();

    Guard(Safety safety, List<Channel> channels) {
        this.safety = safety;
        this.channels = channels;
        this.answered = new boolean[channels.size()];
        this.silentSinceNanos = new long[channels.size()];
        Arrays.fill(silentSinceNanos, -1);
        this.ceilings = channels.stream().map(this::ceiling).toArray(Ceiling[]::new);
        this.fans = new StalledFans(channels);
    }

    /**
     * Parts that the procedure loads though no channel could ever watch their temperature, each with the first stage that
     * does; none if the procedure allows that.
     */
    public static Map<Role, Stage> unwatched(Procedure procedure, List<Channel> channels) {
        Map<Role, Stage> unwatched = new LinkedHashMap<>();
        Guard guard = new Guard(procedure.safety(), channels);
        if (!procedure.safety().allowUnguarded()) {
            for (Stage stage : procedure.stages()) {
                stage.loads().stream()
                        .map(load -> Loads.roleOf(load, stage))
                        .filter(role -> !guard.canWatch(role))
                        .forEach(role -> unwatched.putIfAbsent(role, stage));
            }
        }
        return unwatched;
    }

    private record Ceiling(double celsius, String whose) {}

    private @Nullable Ceiling ceiling(Channel c) {
        Double ofThePart = safety.stopAboveCelsius().get(c.role());
        if (ofThePart == null || !c.measures(Metric.TEMPERATURE)) {
            return null;
        }
        if (c.isOfTheChip(channels)) {
            return new Ceiling(ofThePart, "the safety ceiling");
        }
        OptionalDouble own = c.limit(LimitType.HIGH_CRITICAL).isPresent()
                ? c.limit(LimitType.HIGH_CRITICAL)
                : c.limit(LimitType.THROTTLED);
        return own.isPresent() ? new Ceiling(own.getAsDouble(), "the device's own limit") : null;
    }

    /**
     * Why the load must come off.
     *
     * @param why {@code ceiling}, {@code silent}, {@code fan} or {@code adapter}
     */
    record Stop(Role role, String why, String detail) {}

    /**
     * Looks at one sample.
     *
     * @param loaded parts that are under load now
     */
    Optional<Stop> look(long nowNanos, double[] values, Set<Role> loaded) {
        Optional<Stop> stop = Optional.empty();
        for (int i = 0; i < channels.size(); i++) {
            Channel c = channels.get(i);
            Ceiling ceiling = ceilings[i];
            if (ceiling == null) {
                continue;
            }
            if (!Double.isNaN(values[i])) {
                answered[i] = true;
                silentSinceNanos[i] = -1;
                if (values[i] > ceiling.celsius && stop.isEmpty()) {
                    stop = Optional.of(new Stop(
                            c.role(),
                            "ceiling",
                            c.id() + " reads " + values[i] + " °C, above " + ceiling.whose + " of " + ceiling.celsius
                                    + " °C"));
                }
            } else if (stop.isEmpty() && loaded.contains(c.role()) && silentFor(i, nowNanos)) {
                stop = Optional.of(new Stop(
                        c.role(),
                        "silent",
                        c.id() + ", which guards this part, has not answered for "
                                + safety.silentAfter().toSeconds() + " s"));
            }
        }
        Optional<Stop> fan = fans.look(nowNanos, values);
        Optional<Stop> adapter = adapter(values, loaded);
        if (stop.isPresent()) {
            return stop;
        }
        return fan.isPresent() && !loaded.isEmpty() ? fan : adapter;
    }

    /** Silence counts from the first sample without an answer, so that a stall of our own is not taken for it. */
    private boolean silentFor(int i, long nowNanos) {
        if (!answered[i]) {
            return false;
        }
        if (silentSinceNanos[i] < 0) {
            silentSinceNanos[i] = nowNanos;
        }
        return nowNanos - silentSinceNanos[i] >= safety.silentAfter().toNanos();
    }

    private Optional<Stop> adapter(double[] values, Set<Role> loaded) {
        Optional<Boolean> before = onMains;
        Optional<Boolean> now = mains(channels, values);
        onMains = now.isPresent() ? now : before;
        boolean lost = before.equals(Optional.of(true)) && now.equals(Optional.of(false));
        return lost && safety.stopWhenAdapterLost() && !loaded.isEmpty()
                ? Optional.of(new Stop(Role.ADAPTER, "adapter", "the adapter stopped feeding the machine"))
                : Optional.empty();
    }

    /** True if any adapter feeds the machine; empty if none says. */
    static Optional<Boolean> mains(List<Channel> channels, double[] values) {
        Optional<Boolean> mains = Optional.empty();
        for (int i = 0; i < channels.size(); i++) {
            if (channels.get(i).is(Role.ADAPTER, Metric.ADAPTER_ONLINE) && !Double.isNaN(values[i])) {
                mains = Optional.of(mains.orElse(false) || values[i] == 1);
            }
        }
        return mains;
    }

    /** Parts among {@code loaded} that have a ceiling, but no temperature that has ever answered. */
    Set<Role> unguarded(Set<Role> loaded) {
        Set<Role> open = EnumSet.noneOf(Role.class);
        for (Role role : loaded) {
            if (role == Role.MEMORY) {
                continue; // memory has no sensor on most laptops; the CPU that drives it is guarded
            }
            if (IntStream.range(0, answered.length).noneMatch(i -> answered[i] && watches(i, role))) {
                open.add(role);
            }
        }
        return open;
    }

    /** Whether any channel could watch that part, once it answers. */
    boolean canWatch(Role role) {
        return role == Role.MEMORY || IntStream.range(0, answered.length).anyMatch(i -> watches(i, role));
    }

    private boolean watches(int i, Role role) {
        return channels.get(i).role() == role && ceilings[i] != null;
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.resume;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.agent.run.PendingPowerOff;
import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.EventKind;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Part;
import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.UnknownRecord;
import dev.loadwitness.runlog.Word;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.file.line.Place;
import dev.loadwitness.runlog.file.read.LogVisitor;
import java.time.Duration;
import java.time.Instant;
import java.util.EnumMap;
import java.util.HashSet;
import java.util.Map;
import java.util.Objects;
import java.util.Optional;
import java.util.Set;
import org.jspecify.annotations.Nullable;

/** What a log that broke off says about its run: gathered while the log is read, in memory that does not grow with it. */
public final class Unfinished implements LogVisitor {
    private final int segments;
    private final Gatherer gatherer = new Gatherer();
    private @Nullable Header header;
    private @Nullable Boot lastBoot;
    private @Nullable Close close;
    private @Nullable Instant lastUtc;
    private @Nullable Instant lastSampleUtc;
    private boolean lastUtcTrusted;
    private Optional<BootEvidence> lastEvidence = Optional.empty();
    private long samples;
    private long events;
    private int bootsWithoutSample;
    private final Set<String> endedStages = new HashSet<>();
    private final Set<String> leftOutStages = new HashSet<>();
    private final Map<Role, Event> gpuLoads = new EnumMap<>(Role.class);
    private final PendingPowerOff powerOff = new PendingPowerOff();
    private Optional<Event> asked = Optional.empty();
    private Optional<Damage> worse = Optional.empty();

    public Unfinished() {
        this(Integer.MAX_VALUE);
    }

    /** @param segments how many of the log's count: those after them were begun on resuming, and have a boot record only */
    public Unfinished(int segments) {
        this.segments = segments;
    }

    @Override
    public void record(LogRecord record, Place place) {
        record.accept(gatherer);
    }

    @Override
    public void damage(Damage damage) {
        // A torn tail is what a crash leaves; anything worse is told, and the run goes on all the same.
        if (worse.isEmpty() && !damage.isTornTail()) {
            worse = Optional.of(damage);
        }
    }

    /** The first damage that is more than a torn tail. */
    public Optional<Damage> damage() {
        return worse;
    }

    /** Of a log that was seen, which begins with it. */
    public Header header() {
        return requireNonNull(header, "header");
    }

    /** How the log was closed; empty for one that can be gone on with. */
    public Optional<Close> close() {
        return Optional.ofNullable(close);
    }

    /** The start of the last segment; empty if the run broke off before that was on the disk. */
    public Optional<Boot> lastBoot() {
        return Optional.ofNullable(lastBoot);
    }

    /** Wall clock of the last sample; of the last record that has one where there is no sample. */
    public Instant lastSampleUtc() {
        return lastSampleUtc == null ? requireNonNull(lastUtc, "header") : lastSampleUtc;
    }

    /** Whether the clock of the last segment was plausible when it began; false where there is no segment. */
    public boolean lastUtcTrusted() {
        return lastUtcTrusted;
    }

    /** The evidence gathered at the start of the last segment, if it was resumed itself. */
    public Optional<BootEvidence> lastEvidence() {
        return lastEvidence;
    }

    public long samples() {
        return samples;
    }

    public long events() {
        return events;
    }

    /** How many boots in a row, the last one included, have no sample; starts of the agent within one boot count once. */
    public int bootsWithoutSample() {
        return bootsWithoutSample;
    }

    /** Stages that ran to their end, by id. */
    public Set<String> endedStages() {
        return Set.copyOf(endedStages);
    }

    /** Stages that this run leaves out, by id. */
    public Set<String> leftOutStages() {
        return Set.copyOf(leftOutStages);
    }

    /** The last {@code load-begin} on each graphics part: which device it was. */
    public Map<Role, Event> gpuLoads() {
        return Map.copyOf(gpuLoads);
    }

    /** The stage that had asked for the power to be switched off when the log broke off; empty if none had. */
    public Optional<String> powerOffAsked() {
        return powerOff.stage();
    }

    /** From the asking to {@code now}; NaN where one of the clocks is not to be trusted, or nothing was asked. */
    public double secondsSinceAsked(Boot now) {
        if (powerOff.stage().isEmpty() || asked.isEmpty() || !lastUtcTrusted || !now.utcTrusted()) {
            return Double.NaN;
        }
        return Duration.between(asked.get().utc(), now.utc()).toNanos() / 1e9;
    }

    private final class Gatherer implements LogRecord.Handler<Void> {
        @Override
        public Void header(Header record) {
            header = record;
            lastUtc = record.utc();
            return null;
        }

        @Override
        public Void part(Part record) {
            return null;
        }

        @Override
        public Void boot(Boot record) {
            if (record.at().segment() >= segments) {
                return null;
            }
            boolean another = lastBoot == null
                    || record.bootId().isEmpty()
                    || !Objects.equals(record.bootId(), lastBoot.bootId());
            bootsWithoutSample += another ? 1 : 0;
            lastBoot = record;
            lastUtc = record.utc();
            lastUtcTrusted = record.utcTrusted();
            lastEvidence = Optional.empty();
            return null;
        }

        @Override
        public Void channels(ChannelTable record) {
            return null;
        }

        @Override
        public Void bootEvidence(BootEvidence record) {
            lastEvidence = Optional.of(record);
            return null;
        }

        @Override
        public Void sample(Sample record) {
            samples++;
            bootsWithoutSample = 0;
            lastSampleUtc = record.utc();
            return null;
        }

        @Override
        public Void event(Event record) {
            events++;
            lastUtc = record.utc();
            powerOff.event(record);
            record.known().ifPresent(kind -> event(kind, record));
            return null;
        }

        private void event(EventKind kind, Event record) {
            switch (kind) {
                case STAGE_END -> {
                    if (record.text("why").equals("completed")) {
                        endedStages.add(record.text("stage"));
                    }
                }
                case STAGE_LEFT_OUT -> leftOutStages.add(record.text("stage"));
                case LOAD_BEGIN ->
                    Word.find(Role.class, record.text("role"))
                            .filter(role -> role == Role.GPU_DISCRETE || role == Role.GPU_INTEGRATED)
                            .ifPresent(role -> gpuLoads.put(role, record));
                case OPERATOR_ASKED -> asked = Optional.of(record);
                default -> {
                    // Says nothing about where the run stands.
                }
            }
        }

        @Override
        public Void close(Close record) {
            close = record;
            return null;
        }

        @Override
        public Void unknown(UnknownRecord record) {
            return null;
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.file.read;

import static java.util.Objects.requireNonNull;

import dev.loadwitness.runlog.Boot;
import dev.loadwitness.runlog.BootEvidence;
import dev.loadwitness.runlog.ChannelTable;
import dev.loadwitness.runlog.Close;
import dev.loadwitness.runlog.Event;
import dev.loadwitness.runlog.Header;
import dev.loadwitness.runlog.LogRecord;
import dev.loadwitness.runlog.Part;
import dev.loadwitness.runlog.RunTime;
import dev.loadwitness.runlog.Sample;
import dev.loadwitness.runlog.TornTail;
import dev.loadwitness.runlog.UnknownRecord;
import dev.loadwitness.runlog.disk.DiskException;
import dev.loadwitness.runlog.file.line.Chain;
import dev.loadwitness.runlog.file.line.Damage;
import dev.loadwitness.runlog.file.line.Fault;
import dev.loadwitness.runlog.file.line.Format;
import dev.loadwitness.runlog.file.line.JsonTree;
import dev.loadwitness.runlog.file.line.Place;
import dev.loadwitness.runlog.file.line.RecordDecoder;
import dev.loadwitness.runlog.file.line.SampleLine;
import dev.loadwitness.runlog.file.store.LogStore;
import java.io.IOException;
import java.security.MessageDigest;
import java.util.ArrayList;
import java.util.HashSet;
import java.util.HexFormat;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.Set;
import java.util.SortedMap;
import java.util.TreeMap;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import org.jspecify.annotations.Nullable;

/**
 * One pass over a log: cuts lines, checks the chain, names damage, hands on records. The rules are in docs/run-log.md,
 * "Reading"; a reader in another language that follows them names the same damage at the same lines.
 */
public final class LogScan {
    private static final int KEPT_DAMAGES = 1000;
    private static final int KEPT_STRANGERS = 100;
    private static final Pattern PLAIN_TYPE = Pattern.compile("[a-z0-9._-]{1,100}");

    private final LogStore store;
    private final String firstName;
    private final String stem;
    private final LogVisitor visitor;

    private final Chain chain = new Chain();
    private final RecordDecoder decoder = new RecordDecoder();
    private final SampleLine fast = new SampleLine();
    private final Order order = new Order();
    private final Garbage garbage = new Garbage();

    // The last record that was read, and what stood between it and here.
    private long lastN = -1;
    private byte[] lastChain = Chain.start();
    private long lastEnd;
    private boolean lastTerminated = true;
    private int lastPart = 1;
    /** Lines since the last record that were not read as records. */
    private long skipped;

    /** What the line before states as its chain value, if it is one of those skipped and states one. */
    private final byte[] stated = new byte[Chain.HEX_LENGTH];

    private boolean hasStated;

    private final Map<String, Long> counts = new TreeMap<>();
    private final Set<String> unknownTypes = new HashSet<>();
    private final List<Damage> damages = new ArrayList<>();
    private final List<String> digests = new ArrayList<>();
    private final List<ReadSummary.Stranger> strangers = new ArrayList<>();
    private long damageCount;
    private long samples;
    private long bytes;
    private boolean unknownMust;
    private @Nullable Header header;
    private @Nullable Damage firstDamage;
    private @Nullable State beforeDamage;

    /** Where a record ended: its number, chain value, file, and the position after its line feed. */
    public record State(int part, long n, String chain, long end, boolean terminated, int segment) {}

    public LogScan(LogStore store, String firstName, LogVisitor visitor) {
        this.store = store;
        this.firstName = firstName;
        this.visitor = visitor;
        this.stem = firstName.endsWith(Format.EXTENSION)
                ? firstName.substring(0, firstName.length() - Format.EXTENSION.length())
                : "";
    }

    public ReadSummary run() throws IOException {
        // Before anything else, and no more than a header: what is no log may be of any size.
        try (LineSource lines = new LineSource(store.read(firstName), Format.MAX_HEADER + 1L)) {
            checkFirstLine(lines, lines.next(Format.MAX_HEADER, Chain.sha256()));
        }
        SortedMap<Integer, Part> further = furtherParts();
        int expected = 1;
        for (int part : numbers(further)) {
            Part record = further.get(part);
            // Where nothing of the file before counts, nothing is missed with it.
            if (record != null && part != expected && record.goodBytes() > 0) {
                damage(
                        Damage.Kind.MISSING,
                        new Place(expected, 1, 0),
                        0,
                        "the file " + Format.fileName(stem, expected) + " is missing");
            }
            Part next = further.get(part + 1);
            file(part, next == null ? Long.MAX_VALUE : next.goodBytes());
            expected = part + 1;
        }
        if (samples > 0) {
            counts.merge("sample", samples, Long::sum);
        }
        return new ReadSummary(
                counts,
                damages,
                damageCount,
                Chain.text(lastChain),
                order.isClosed(),
                unknownMust,
                numbers(further),
                digests,
                bytes,
                strangers);
    }

    private static List<Integer> numbers(Map<Integer, Part> further) {
        List<Integer> numbers = new ArrayList<>(List.of(1));
        numbers.addAll(further.keySet());
        return numbers;
    }

    /** The further files of this very log, by the record that each opens with. Whatever else is named so is a stranger. */
    private SortedMap<Integer, Part> furtherParts() throws IOException {
        TreeMap<Integer, Part> own = new TreeMap<>();
        if (stem.isEmpty()) {
            return own;
        }
        Pattern name = Pattern.compile(Pattern.quote(stem) + "\\.part([1-9][0-9]{0,5})\\.jsonl");
        List<Integer> named = new ArrayList<>();
        for (String file : store.list()) {
            Matcher match = name.matcher(file);
            if (match.matches() && Integer.parseInt(match.group(1)) > 1) {
                named.add(Integer.parseInt(match.group(1)));
            }
        }
        if (named.isEmpty()) {
            return own;
        }
        named.sort(null);
        Optional<String> run = firstRecord(1, Format.MAX_HEADER)
                .filter(Header.class::isInstance)
                .map(header -> ((Header) header).runId());
        for (int number : named) {
            try {
                firstRecord(number, Format.MAX_LINE)
                        .filter(record -> record instanceof Part part
                                && part.number() == number
                                && run.equals(Optional.of(part.runId())))
                        .ifPresentOrElse(
                                record -> own.put(number, (Part) record),
                                () -> stranger(number, "it does not open with the part record of this run"));
            } catch (DiskException e) {
                if (e.kind() != DiskException.Kind.LINK && e.kind() != DiskException.Kind.WRONG_KIND) {
                    throw e;
                }
                stranger(number, "it is no regular file");
            }
        }
        return own;
    }

    private void stranger(int number, String why) {
        if (strangers.size() < KEPT_STRANGERS) {
            strangers.add(new ReadSummary.Stranger(
                    name(number),
                    store.describe(name(number)) + " lies where a further part of this log would and is not read: "
                            + why + "; look what it is, and take it away"));
        }
    }

    private String name(int part) {
        return part == 1 ? firstName : Format.fileName(stem, part);
    }

    /** The record that a file begins with; empty if its first line is none. */
    private Optional<LogRecord> firstRecord(int part, int most) throws IOException {
        try (LineSource lines = new LineSource(store.read(name(part)), most + 1L)) {
            if (lines.next(most, Chain.sha256())
                    && !lines.isTooLong()
                    && Chain.hasSuffix(lines.bytes(), lines.start(), lines.end())) {
                return Optional.of(new RecordDecoder()
                        .decode(lines.bytes(), lines.start(), lines.end())
                        .record());
            }
        } catch (Fault e) {
            // A first file's line is read again in its turn, and this is then named.
            return Optional.empty();
        }
        return Optional.empty();
    }

    private void file(int part, long limit) throws IOException {
        order.beginFile(part);
        long endOfFileBefore = lastPart == part - 1 ? lastEnd : 0;
        try (LineSource lines = new LineSource(store.read(name(part)), limit)) {
            boolean any = lines.next(part == 1 ? Format.MAX_HEADER : Format.MAX_LINE, garbage.nextLine());
            if (part == 1) {
                checkFirstLine(lines, any);
            }
            while (any) {
                line(lines, part, endOfFileBefore);
                any = lines.next(Format.MAX_LINE, garbage.nextLine());
            }
            boolean mayBeTorn = limit == Long.MAX_VALUE && !order.isClosed();
            if (mayBeTorn && garbage.isOnePiece()) {
                Damage torn = new Damage(
                        Damage.Kind.TORN_TAIL,
                        garbage.place(),
                        garbage.bytes(),
                        garbage.bytes() + " bytes after the last whole record, as a crash leaves them");
                garbage.clear();
                damage(torn);
            }
            flushGarbage();
            lines.drain();
            bytes += lines.size();
            digests.add(lines.sha256());
        }
    }

    private void checkFirstLine(LineSource lines, boolean any) throws UnsupportedLogException {
        String where = store.describe(firstName);
        if (!any) {
            throw new UnsupportedLogException(where + " is empty: it is no run log", false);
        }
        if (lines.isTooLong() || !Chain.hasSuffix(lines.bytes(), lines.start(), lines.end())) {
            throw new UnsupportedLogException(
                    where + " is no run log: its first line is not a whole record that ends in a chain value", false);
        }
        String format = RecordDecoder.format(lines.bytes(), lines.start(), lines.end());
        Matcher version = Pattern.compile(Pattern.quote(Format.NAME) + "([0-9]{1,9})\\.([0-9]{1,9})")
                .matcher(format);
        if (!version.matches()) {
            throw new UnsupportedLogException(
                    where + " is no run log: its first line is not a readable header. If this is a later part of a log"
                            + " (…part2.jsonl), give the first file",
                    false);
        }
        int major = Integer.parseInt(version.group(1));
        if (major != Format.MAJOR) {
            throw new UnsupportedLogException(
                    where + " is in format " + format + "; this version reads " + Format.version()
                            + " and later 1.x. Use a newer version of this program",
                    major > Format.MAJOR);
        }
        try {
            decoder.decode(lines.bytes(), lines.start(), lines.end());
        } catch (Fault e) {
            throw new UnsupportedLogException(where + " has a damaged header: " + e.getMessage(), false);
        }
    }

    private void line(LineSource lines, int part, long endOfFileBefore) {
        byte[] b = lines.bytes();
        int from = lines.start();
        int to = lines.end();
        boolean suffix = Chain.hasSuffix(b, from, to);
        Sample sample = suffix && !lines.isTooLong() ? fast.parse(b, from, to) : null;
        if (sample != null) {
            if (record(lines, part, fast.n(), sample, endOfFileBefore)) {
                samples++;
            }
            return;
        }
        Fault fault;
        if (lines.isTooLong()) {
            fault = new Fault(Damage.Kind.TOO_LONG, "longer than " + Format.MAX_LINE + " bytes");
        } else if (!suffix) {
            fault = kindOfGarbage(b, from, to);
        } else {
            try {
                RecordDecoder.Line read = decoder.decode(b, from, to);
                if (record(lines, part, read.n(), read.record(), endOfFileBefore)) {
                    unknownMust |= read.unknownMust();
                    counts.merge(countedAs(read), 1L, Long::sum);
                }
                return;
            } catch (Fault e) {
                fault = e;
            }
        }
        Place place = new Place(part, lines.number(), lines.offset());
        Damage damage = new Damage(fault.kind(), place, lines.lengthWithFeed(), fault.getMessage());
        skipped++;
        hasStated = suffix;
        if (suffix) {
            flushGarbage();
            garbage.settled();
            Chain.stated(b, to, stated);
            damage(damage);
        } else if (!garbage.hold(damage, lines)) {
            flushGarbage();
            damage(damage);
        }
    }

    /** A hostile log may hold millions of types. */
    private String countedAs(RecordDecoder.Line line) {
        if (!(line.record() instanceof UnknownRecord)) {
            return line.type();
        }
        if (!unknownTypes.contains(line.type())) {
            if (unknownTypes.size() == Format.MAX_UNKNOWN_TYPES
                    || !PLAIN_TYPE.matcher(line.type()).matches()) {
                return Format.OTHER_TYPES;
            }
            unknownTypes.add(line.type());
        }
        return line.type();
    }

    private static Fault kindOfGarbage(byte[] bytes, int from, int to) {
        try {
            JsonTree.checkBytes(bytes, from, to);
        } catch (Fault e) {
            return e;
        }
        return new Fault(Damage.Kind.MALFORMED, "not a record that ends in a chain value");
    }

    /** Checks a well-formed record against those before it, and hands it on. False if it was not handed on. */
    private boolean record(LineSource lines, int part, long n, LogRecord record, long endOfFileBefore) {
        byte[] b = lines.bytes();
        int from = lines.start();
        int to = lines.end();
        Place place = new Place(part, lines.number(), lines.offset());
        boolean fits = (skipped == 0 || n == lastN + 1) && chain.fits(lastChain, b, from, to);
        if (!garbage.isEmpty()) {
            settleGarbage(n == lastN + 1 && fits, record, lines);
        }
        Damage.Kind kind = null;
        String detail = "";
        if (n <= lastN) {
            damage(
                    Damage.Kind.REPEATED,
                    place,
                    lines.lengthWithFeed(),
                    "record " + n + " again, or out of its order; the one before is " + lastN);
            return false;
        } else if (n > lastN + 1 + skipped) {
            kind = Damage.Kind.MISSING;
            detail = (n - lastN - 1 - skipped) + " records before record " + n + " are missing";
        } else if (n == lastN + 1 ? !fits : hasStated && !chain.fits(stated, b, from, to)) {
            kind = Damage.Kind.EDITED;
            detail = "record " + n + " does not give the chain value that it states";
        } else if (record instanceof Boot boot && boot.torn().isPresent() && !garbage.isDeclared()) {
            kind = Damage.Kind.EDITED;
            detail = "record " + n + " declares a torn tail that is not before it, or was other bytes";
        } else if (record instanceof Part p && part > 1 && !fits(p, part, endOfFileBefore)) {
            kind = Damage.Kind.EDITED;
            detail = "record " + n + " does not fit the file before this one";
        }
        garbage.settled();
        if (kind != null) {
            damage(kind, place, 0, detail);
        }
        lastN = n;
        Chain.stated(b, to, lastChain);
        lastEnd = lines.offset() + lines.lengthWithFeed();
        lastTerminated = lines.isTerminated();
        lastPart = part;
        skipped = 0;
        hasStated = false;
        Optional<Damage.Kind> misplaced = order.check(record, lines.number());
        if (misplaced.isPresent()) {
            damage(misplaced.get(), place, lines.lengthWithFeed(), "record " + n + " " + order.why());
            return false;
        }
        if (record instanceof Header first) {
            header = first;
        }
        visitor.record(record, place);
        return true;
    }

    private boolean fits(Part record, int part, long endOfFileBefore) {
        return record.number() == part
                && record.runId().equals(header().runId())
                && record.goodChain().equals(Chain.text(lastChain))
                && record.goodBytes() == endOfFileBefore;
    }

    private void settleGarbage(boolean follows, LogRecord record, LineSource lines) {
        if (follows
                && record instanceof Boot boot
                && boot.torn().isPresent()
                && garbage.isExactly(boot.torn().get(), lines.offset())) {
            TornTail torn = boot.torn().get();
            Place place = garbage.place();
            garbage.declare();
            damage(
                    Damage.Kind.TORN_TAIL,
                    place,
                    torn.length(),
                    torn.length() + " bytes that a crash left, declared at record " + (lastN + 1));
        } else {
            flushGarbage();
        }
    }

    private void flushGarbage() {
        List<Damage> held = garbage.take();
        held.forEach(this::damage);
    }

    private void damage(Damage.Kind kind, Place place, long lost, String detail) {
        damage(new Damage(kind, place, lost, detail));
    }

    private void damage(Damage damage) {
        if (firstDamage == null && !damage.isTornTail()) {
            firstDamage = damage;
            beforeDamage = end();
        }
        damageCount++;
        if (damages.size() < KEPT_DAMAGES) {
            damages.add(damage);
        }
        visitor.damage(damage);
    }

    /** The end of the last record read. */
    public State end() {
        return new State(lastPart, lastN, Chain.text(lastChain), lastEnd, lastTerminated, order.segment());
    }

    /** The first damage other than a torn tail. */
    public Optional<Damage> firstDamage() {
        return Optional.ofNullable(firstDamage);
    }

    /**
     * The end of the last record before the first damage, if that is of bytes that are no record, as a crash may leave them;
     * empty if there is none, or if it is one that no crash leaves: a record that was altered, moved or taken out.
     */
    public Optional<State> endBeforeSpoiltBytes() {
        return firstDamage().filter(d -> d.bytes() > 0).map(d -> beforeDamage);
    }

    /** The log's own, once {@link #run} has begun: what does not open with one is no log. */
    public Header header() {
        return requireNonNull(header, "header");
    }

    /** Which records may follow which. */
    private static final class Order implements LogRecord.Handler<Optional<Damage.Kind>> {
        private int part = 1;
        private long line;
        private int segment = -1;
        private long nanos;
        private int columns = -1;
        private boolean closed;
        private String why = "";

        void beginFile(int part) {
            this.part = part;
        }

        boolean isClosed() {
            return closed;
        }

        int segment() {
            return segment;
        }

        String why() {
            return why;
        }

        /** What is wrong with this record being here, or empty. */
        Optional<Damage.Kind> check(LogRecord record, long line) {
            this.line = line;
            if (closed) {
                return outOfPlace("comes after the close");
            }
            if (part > 1 && line == 1 && !(record instanceof Part)) {
                return outOfPlace("begins a further file, where a part record belongs");
            }
            return record.accept(this);
        }

        private Optional<Damage.Kind> outOfPlace(String why) {
            this.why = why;
            return Optional.of(Damage.Kind.OUT_OF_PLACE);
        }

        private Optional<Damage.Kind> at(RunTime at) {
            if (at.segment() != segment) {
                return outOfPlace("is of segment " + at.segment() + ", but segment " + segment + " is on");
            }
            if (at.nanos() < nanos) {
                return outOfPlace("is earlier than the record before it");
            }
            nanos = at.nanos();
            return Optional.empty();
        }

        @Override
        public Optional<Damage.Kind> header(Header header) {
            return part == 1 && line == 1 ? Optional.empty() : outOfPlace("is a second header");
        }

        @Override
        public Optional<Damage.Kind> part(Part record) {
            return part > 1 && line == 1 ? Optional.empty() : outOfPlace("is a part record inside a file");
        }

        @Override
        public Optional<Damage.Kind> boot(Boot boot) {
            if (boot.at().segment() != segment + 1) {
                return outOfPlace("begins segment " + boot.at().segment() + " after segment " + segment);
            }
            segment++;
            nanos = boot.at().nanos();
            columns = -1;
            return Optional.empty();
        }

        @Override
        public Optional<Damage.Kind> channels(ChannelTable table) {
            Optional<Damage.Kind> wrong = at(table.at());
            if (wrong.isEmpty()) {
                columns = table.channels().size();
            }
            return wrong;
        }

        @Override
        public Optional<Damage.Kind> bootEvidence(BootEvidence evidence) {
            return at(evidence.at());
        }

        @Override
        public Optional<Damage.Kind> sample(Sample sample) {
            if (columns >= 0 && sample.at().segment() == segment && sample.values().length != columns) {
                why = "has " + sample.values().length + " values for " + columns + " channels";
                return Optional.of(Damage.Kind.WRONG_SHAPE);
            }
            if (columns < 0 && sample.at().segment() == segment) {
                return outOfPlace("comes before the channel table of its segment");
            }
            return at(sample.at());
        }

        @Override
        public Optional<Damage.Kind> event(Event event) {
            return at(event.at());
        }

        @Override
        public Optional<Damage.Kind> close(Close close) {
            Optional<Damage.Kind> wrong = at(close.at());
            closed = wrong.isEmpty();
            return wrong;
        }

        @Override
        public Optional<Damage.Kind> unknown(UnknownRecord unknown) {
            return Optional.empty();
        }
    }

    /**
     * Lines without a chain value since the last one with one. They may turn out to be a torn tail, at the end of the
     * file or because the next boot record declares exactly them; so their damage is held back until that is known.
     */
    private static final class Garbage {
        private final List<Damage> held = new ArrayList<>();
        private final MessageDigest digest = Chain.sha256();
        private MessageDigest exact = digest;
        private Place place = new Place(1, 1, 0);
        private long bytes;
        private boolean unterminated;
        private boolean tooMany;
        private boolean declared;

        boolean isEmpty() {
            return held.isEmpty();
        }

        boolean isOnePiece() {
            return !held.isEmpty() && !tooMany;
        }

        /** The digest that the next line goes to should it be too long to be kept. */
        MessageDigest nextLine() {
            if (!held.isEmpty()) {
                // The last line feed is resume's own and no part of what a boot record declares.
                exact = copy(digest);
                digest.update((byte) '\n');
            }
            return digest;
        }

        private static MessageDigest copy(MessageDigest digest) {
            try {
                return (MessageDigest) digest.clone();
            } catch (CloneNotSupportedException e) {
                throw new AssertionError("Java's own SHA-256 can be copied", e);
            }
        }

        boolean hold(Damage damage, LineSource lines) {
            if (tooMany) {
                return false;
            }
            if (held.size() == Format.MAX_TORN_LINES) {
                tooMany = true;
                return false;
            }
            if (held.isEmpty()) {
                place = damage.place();
                bytes = 0;
            }
            if (!lines.isTooLong()) {
                digest.update(lines.bytes(), lines.start(), lines.end() - lines.start());
            }
            held.add(damage);
            bytes += lines.lengthWithFeed();
            unterminated = !lines.isTerminated();
            return true;
        }

        Place place() {
            return place;
        }

        long bytes() {
            return bytes;
        }

        boolean isExactly(TornTail torn, long bootOffset) {
            if (tooMany
                    || unterminated
                    || torn.offset() != place.offset()
                    || torn.length() != bytes - 1
                    || bootOffset != place.offset() + bytes) {
                return false;
            }
            return HexFormat.of().formatHex(exact.digest()).equals(torn.sha256());
        }

        void declare() {
            clear();
            declared = true;
        }

        boolean isDeclared() {
            return declared;
        }

        void settled() {
            declared = false;
            tooMany = false;
        }

        void clear() {
            held.clear();
            digest.reset();
            bytes = 0;
        }

        List<Damage> take() {
            List<Damage> taken = List.copyOf(held);
            clear();
            return taken;
        }
    }
}

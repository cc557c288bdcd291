// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.plan;

import static dev.loadwitness.runlog.procedure.Parameters.SoakDuration.AT_LEAST;

import dev.loadwitness.runlog.Role;
import dev.loadwitness.runlog.procedure.Criterion;
import dev.loadwitness.runlog.procedure.CriterionSetting;
import dev.loadwitness.runlog.procedure.Procedure;
import dev.loadwitness.runlog.procedure.ProcedureException;
import dev.loadwitness.runlog.procedure.ProcedureReader;
import dev.loadwitness.runlog.procedure.Stage;
import dev.loadwitness.runlog.yaml.Located;
import dev.loadwitness.runlog.yaml.Measure;
import dev.loadwitness.runlog.yaml.Reading;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.LinkedHashSet;
import java.util.List;
import java.util.Optional;
import java.util.Set;
import java.util.stream.Collectors;

/**
 * A copy of a procedure whose soak is as long as planned. Only the values are exchanged where they stand, so that
 * comments, order and everything else stay as the technician wrote them. Nothing is ever made shorter.
 *
 * @param text of the whole file
 * @param procedure as read again from that text
 * @param changes in words, one a value; empty if the procedure is long enough as it is
 */
public record PlannedProcedure(String text, Procedure procedure, List<String> changes) {
    private static final String SUFFIX = "-planned";

    public PlannedProcedure {
        changes = List.copyOf(changes);
    }

    /** Why no copy can be made, for the person who asked for it. */
    public static final class Refused extends Exception {
        private static final long serialVersionUID = 1;

        Refused(String message) {
            super(message);
        }
    }

    /**
     * The procedure in {@code text} with a soak of at least {@code soakSeconds}.
     *
     * @param fileName for messages
     * @param reason for the comment beside each value: {@code 95 % for a fault every 8 min}
     * @throws ProcedureException if the file, before or after, is no valid procedure
     */
    public static PlannedProcedure of(String fileName, String text, double soakSeconds, String reason)
            throws ProcedureException, Refused {
        Procedure before = ProcedureReader.read(fileName, text);
        CriterionSetting soak = before.setting(Criterion.SOAK_DURATION)
                .orElseThrow(() -> new Refused(fileName + " has no criterion soak-duration, so it asks for no soak that"
                        + " could be lengthened; name a procedure that does, for example gpu-power-repair.yaml"));
        double least = soak.seconds(AT_LEAST);
        if (soakSeconds <= least) {
            return new PlannedProcedure(text, before, List.of());
        }
        Edits edits = new Edits(fileName, text, reason);
        edits.replace(
                "soak-duration at-least",
                edits.at(edits.root(), "criteria", "soak-duration").flatMap(s -> edits.field(s, "at-least")),
                write(soakSeconds));
        // Every part that is proved must be able to hold the soak.
        for (Role part : before.provedParts()) {
            Stage longest = before.stages().stream()
                    .filter(s -> s.proves().filter(part::equals).isPresent())
                    .max(Comparator.comparing(Stage::duration))
                    .orElseThrow();
            String longer = write(longest.duration().toMillis() / 1e3 + soakSeconds - least);
            Set<String> lengthened = before.stages().stream()
                    // Equal soaks, as of a repeated one, stay equal.
                    .filter(s -> s.proves().equals(longest.proves())
                            && s.loads().equals(longest.loads())
                            && s.duration().equals(longest.duration()))
                    .map(s -> edits.written(s.id()))
                    .collect(Collectors.toCollection(LinkedHashSet::new));
            for (String id : lengthened) {
                edits.replace("stage " + id, edits.stage(id).flatMap(s -> edits.field(s, "duration")), longer);
            }
        }
        edits.name(before.name().endsWith(SUFFIX) ? before.name() : before.name() + SUFFIX);
        edits.title(" (soak planned for " + Span.write(soakSeconds) + ")");
        String after = edits.applied();
        return new PlannedProcedure(after, ProcedureReader.read(fileName, after), edits.changes);
    }

    private static String write(double seconds) {
        String exact = Measure.DURATION.write(seconds);
        return exact.endsWith(" h") || seconds % 60 != 0 ? exact : Math.round(seconds / 60) + " min";
    }

    /** Exchanges of single values, gathered first and made from the end of the file to its beginning. */
    private static final class Edits {
        private final String fileName;
        private final String text;
        private final String reason;
        private final Located root;
        private final List<String> changes = new ArrayList<>();
        private final List<Edit> edits = new ArrayList<>();

        private record Edit(int from, int to, String with) {}

        Edits(String fileName, String text, String reason) {
            this.fileName = fileName;
            this.text = text;
            this.reason = reason;
            this.root = new Reading().tree(text).orElseThrow(); // it was read before
        }

        Located root() {
            return root;
        }

        Optional<Located> at(Located from, String... keys) {
            Optional<Located> at = Optional.of(from);
            for (String key : keys) {
                at = at.flatMap(a -> field(a, key));
            }
            return at;
        }

        Optional<Located> field(Located in, String key) {
            return in instanceof Located.Fields fields
                    ? fields.fields().stream()
                            .filter(f -> f.key().value().equals(key))
                            .map(Located.Field::value)
                            .findFirst()
                    : Optional.empty();
        }

        Optional<Located> stage(String id) {
            return field(root, "stages")
                    .flatMap(list -> ((Located.Items) list)
                            .items().stream()
                                    .filter(item -> field(item, "id")
                                            .filter(v -> v instanceof Located.Text t
                                                    && t.value().equals(id))
                                            .isPresent())
                                    .findFirst());
        }

        /** The id as it stands in the file: a stage with {@code times} has its number there not. */
        String written(String id) {
            return stage(id).isPresent() ? id : id.replaceFirst("-[0-9]+$", "");
        }

        void replace(String what, Optional<Located> value, String with) throws Refused {
            if (value.isEmpty()) {
                throw new Refused(fileName + " leaves " + what + " to the default; write it out first, then plan");
            }
            String old = exchange(what, value.get(), v -> with, true);
            changes.add(what + ": " + with + ", was " + old);
        }

        void name(String with) throws Refused {
            exchange("name", field(root, "name").orElseThrow(), v -> with, false);
        }

        void title(String addition) throws Refused {
            exchange("title", field(root, "title").orElseThrow(), v -> v + addition, false);
        }

        private String exchange(
                String what, Located at, java.util.function.UnaryOperator<String> change, boolean explained)
                throws Refused {
            String old = at instanceof Located.Text value ? value.value() : "";
            int from = offset(at.line(), at.column());
            if (from < text.length() && (text.charAt(from) == '"' || text.charAt(from) == '\'')) {
                from++;
            }
            if (old.isEmpty() || !text.startsWith(old, from)) {
                throw new Refused(fileName + " line " + at.line() + ": " + what
                        + " is not written plainly on one line; do that, then plan");
            }
            int to = from + old.length();
            edits.add(new Edit(from, to, change.apply(old)));
            if (explained) {
                explain(to, old);
            }
            return old;
        }

        /** Says beside the value where it is from; the comment that stood there spoke of the old one. */
        private void explain(int after, String old) {
            int end = text.indexOf('\n', after);
            String rest = text.substring(after, end < 0 ? text.length() : end);
            String tail = rest.replaceFirst("^[\"']", "").strip();
            if (tail.isEmpty() || tail.startsWith("#")) {
                int at = after + rest.stripTrailing().length();
                String comment = (tail.isEmpty() ? " # " : "; ") + "planned: " + reason + ", was " + old;
                edits.add(new Edit(at, at, comment));
            }
        }

        /** Columns count characters, not the halves that Java keeps of some. */
        private int offset(int line, int column) {
            int start = text.startsWith("\uFEFF") ? 1 : 0;
            for (int i = 1; i < line; i++) {
                start = text.indexOf('\n', start) + 1;
            }
            return text.offsetByCodePoints(start, column - 1);
        }

        String applied() {
            StringBuilder changed = new StringBuilder(text);
            edits.stream()
                    .sorted(Comparator.comparingInt(Edit::from).reversed())
                    .forEach(e -> changed.replace(e.from(), e.to(), e.with()));
            return changed.toString();
        }
    }
}

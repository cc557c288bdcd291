// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.pdf.paper;

/**
 * A file carried inside the report, compressed.
 *
 * @param name as it is shown and saved, for example {@code run.jsonl}
 * @param kind what it is to the report
 * @param bytes whole; how large a log may be is the caller's decision
 */
@SuppressWarnings("ArrayRecordComponent") // a file's bytes, handed through once and never compared
public record EmbeddedFile(String name, Kind kind, byte[] bytes) {
    /** What a file is to the report; {@code AFRelationship} of ISO 32000-2. */
    public enum Kind {
        RUN_LOG("embedded.run-log", "application/jsonl", "Source"),
        RUN_LOG_PART("embedded.run-log-part", "application/jsonl", "Source"),
        EARLIER_LOG("embedded.earlier", "application/jsonl", "Source"),
        CRITERIA("embedded.criteria", "application/yaml", "Source"),
        JOB_SHEET("embedded.job-sheet", "application/yaml", "Source"),
        /** Given after the run, in place of the one in the log. */
        LATER_JOB_SHEET("embedded.job-sheet-later", "application/yaml", "Source"),
        /** The same verdict for programs. */
        VERDICT("embedded.verdict", "application/json", "Data"),
        /** Number, date and layout, from which the same pages can be made again. */
        REPORT("embedded.report", "application/json", "Data");

        public final String key;
        final String mimeType;
        final String relationship;

        Kind(String key, String mimeType, String relationship) {
            this.key = key;
            this.mimeType = mimeType;
            this.relationship = relationship;
        }
    }
}

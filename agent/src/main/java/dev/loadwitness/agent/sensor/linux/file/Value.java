// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.file;

import java.io.IOException;
import java.util.List;

/** How one channel's value is got from one or more kernel files. */
public interface Value {
    /**
     * In the channel's unit; NaN if the files answered but say nothing usable.
     *
     * @throws IOException if there was no answer
     */
    double read() throws IOException;

    /** The files to close at the end. */
    List<SampledFile> files();

    /** A file's number divided by {@code perUnit}, which rounds once only; NaN outside {@code [lowest, highest]}, which no working sensor leaves. */
    static Value scaled(SampledFile file, double perUnit, double lowest, double highest) {
        return new Value() {
            @Override
            public double read() throws IOException {
                double value = file.number() / perUnit;
                return value >= lowest && value <= highest ? value : Double.NaN;
            }

            @Override
            public List<SampledFile> files() {
                return List.of(file);
            }
        };
    }

    /** The files' numbers added up, divided by {@code perUnit}. */
    static Value sum(List<SampledFile> files, double perUnit) {
        return new Value() {
            @Override
            public double read() throws IOException {
                long sum = 0;
                for (int i = 0; i < files.size(); i++) {
                    sum += files.get(i).number();
                }
                return sum / perUnit;
            }

            @Override
            public List<SampledFile> files() {
                return files;
            }
        };
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.scan.series;

import java.util.ArrayList;
import java.util.List;

/** The series of a run for drawing. When all their bins together are too many, each is drawn from half as many. */
final class SeriesList {
    /** A drawing is some hundred dots wide; a run of a hundred channels and five boots has a million bins. */
    private static final long MOST_BINS = 2_000_000;

    private final List<Series> series = new ArrayList<>();
    private long bins;

    void add(Series one) {
        series.add(one);
        bins += one.mean().length;
        while (bins > MOST_BINS) {
            series.replaceAll(Series::halved);
            bins = series.stream().mapToLong(s -> s.mean().length).sum();
        }
    }

    List<Series> list() {
        return series;
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

import java.util.LinkedHashMap;
import java.util.Map;
import java.util.Optional;

/**
 * Looks for the heaviest of all mixes and shapes by trying few of them. Knows nothing of time or devices: it names the next
 * point, and is told what that drew.
 *
 * <p>Both ends of the mixes and the start are tried first, then always the nearest untried neighbour of the heaviest so
 * far: two and one mixes to either side, one shape to either side. It ends when the heaviest has no untried neighbour. On a
 * surface with one hill it ends at the top; on any other it ends at a point that no point tried exceeds.
 */
final class Search {
    /** A noisy surface must not keep the load from beginning. */
    private static final int MOST_TRIALS = 30;

    private static final int[][] NEIGHBOURS = {{2, 0}, {-2, 0}, {1, 0}, {-1, 0}, {0, 1}, {0, -1}};

    private final int mixes;
    private final int shapes;
    private final Point start;
    private final Map<Point, Double> tried = new LinkedHashMap<>();

    /** A place on the surface: which mix, and which shape. */
    record Point(int mix, int shape) {}

    /**
     * A search that has not begun.
     *
     * @param mixes from memory traffic only, 0, to multiply-adds only
     * @param shapes from few items to many
     */
    Search(int mixes, int shapes, Point start) {
        this.mixes = mixes;
        this.shapes = shapes;
        this.start = start;
    }

    /** What to try next; empty at the end. */
    Optional<Point> next() {
        if (tried.size() >= MOST_TRIALS) {
            return Optional.empty();
        }
        Point traffic = new Point(0, start.shape());
        Point arithmetic = new Point(mixes - 1, start.shape());
        for (Point first : new Point[] {traffic, arithmetic, start}) {
            if (!tried.containsKey(first)) {
                return Optional.of(first);
            }
        }
        Point best = heaviest();
        for (int[] n : NEIGHBOURS) {
            Point near = new Point(best.mix() + n[0], best.shape() + n[1]);
            if (isInside(near) && !tried.containsKey(near)) {
                return Optional.of(near);
            }
        }
        return Optional.empty();
    }

    private boolean isInside(Point p) {
        return p.mix() >= 0 && p.mix() < mixes && p.shape() >= 0 && p.shape() < shapes;
    }

    /** What the point of {@link #next} drew. NaN if it could not be tried. */
    void tried(Point point, double value) {
        tried.put(point, Double.isNaN(value) ? Double.NEGATIVE_INFINITY : value);
    }

    /** The heaviest of all that were tried; of equals the first. */
    Point heaviest() {
        Point best = start;
        double most = Double.NEGATIVE_INFINITY;
        for (Map.Entry<Point, Double> e : tried.entrySet()) {
            if (e.getValue() > most) {
                most = e.getValue();
                best = e.getKey();
            }
        }
        return best;
    }
}

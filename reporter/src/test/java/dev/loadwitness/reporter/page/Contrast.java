// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

/**
 * Contrast ratio of two colours as WCAG 2.2 defines it ("contrast ratio" and "relative luminance", W3C Recommendation of
 * 12 December 2024, https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio).
 */
final class Contrast {
    private Contrast() {}

    /** @param rgb and {@code other}: {@code #rrggbb} */
    static double of(String rgb, String other) {
        double a = luminance(rgb);
        double b = luminance(other);
        return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    }

    private static double luminance(String rgb) {
        return 0.2126 * channel(rgb, 1) + 0.7152 * channel(rgb, 3) + 0.0722 * channel(rgb, 5);
    }

    private static double channel(String rgb, int at) {
        double c = Integer.parseInt(rgb.substring(at, at + 2), 16) / 255.0;
        return c <= 0.04045 ? c / 12.92 : Math.pow((c + 0.055) / 1.055, 2.4);
    }
}

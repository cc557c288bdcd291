// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

/** Entry point. */
public final class Main {
    private Main() {}

    public static void main(String[] args) {
        System.exit(64);
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog.command;

import java.io.Console;
import java.util.Optional;

/** Whether somebody sits at a terminal, and how wide it is. */
public final class Terminal {
    private static final int DEFAULT_WIDTH = 100;

    private Terminal() {}

    /** The terminal that is both input and output; empty if either is something else. */
    @SuppressWarnings("SystemConsoleNull") // from JDK 22 on, null is asked for by the property
    public static Optional<Console> find() {
        System.setProperty("jdk.console", "java.base");
        return Optional.ofNullable(System.console());
    }

    /** Columns to write in. */
    public static int width() {
        String columns = System.getenv("COLUMNS");
        return columns != null && columns.matches("[0-9]{2,3}") ? Integer.parseInt(columns) : DEFAULT_WIDTH;
    }
}

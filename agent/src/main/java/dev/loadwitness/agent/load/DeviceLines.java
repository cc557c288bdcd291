// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load;

import dev.loadwitness.agent.load.worker.ComputeDevice;
import dev.loadwitness.runlog.Shown;
import java.util.ArrayList;
import java.util.List;

/** What processes that listed devices said, line by line, up to where a driver ended or stopped one. */
final class DeviceLines {
    private static final int LONGEST_QUOTE = 80;
    private static final int LONGEST_TEXT = 500;
    private static final int MOST_DEVICES = 256;
    private static final int MOST_PROBLEMS = 20;

    private final List<ComputeDevice> devices = new ArrayList<>();
    private final List<String> problems = new ArrayList<>();
    private int problemsLeftOut;
    private int nextPlatform;
    private String driver = "";
    private boolean complete;

    void hear(String line) {
        int space = line.indexOf(' ');
        String rest = line.substring(space + 1);
        switch (space < 0 ? line : line.substring(0, space)) {
            case "platform" -> platform(line, rest);
            case "device" -> device(line, rest);
            case "refused" -> problem(Shown.line(rest, LONGEST_TEXT));
            case "none" -> {
                problem(Shown.line(rest, LONGEST_TEXT));
                complete = true;
            }
            case "end" -> complete = true;
            default -> {
                // Drivers write notes of their own to where they should not.
            }
        }
    }

    private void platform(String line, String rest) {
        try {
            String[] numberAndName = rest.split(" ", 2);
            int number = Integer.parseInt(numberAndName[0]);
            if (number < 0 || number < nextPlatform - 1) {
                throw new NumberFormatException();
            }
            nextPlatform = number + 1;
            driver = numberAndName.length < 2 ? "" : Shown.line(numberAndName[1], LONGEST_QUOTE);
        } catch (NumberFormatException e) {
            unreadable(line, "no number of a driver");
        }
    }

    private void device(String line, String rest) {
        if (devices.size() == MOST_DEVICES) {
            problem("more than " + MOST_DEVICES + " devices are offered; the others were left out");
            return;
        }
        try {
            devices.add(ComputeDevice.ofLine(rest));
        } catch (NumberFormatException e) {
            unreadable(line, "a number is none");
        } catch (IllegalArgumentException e) {
            unreadable(line, String.valueOf(e.getMessage()));
        }
    }

    private void unreadable(String line, String why) {
        problem(who() + " made the process that asked it say '" + Shown.line(line, LONGEST_QUOTE)
                + "', which describes no device (" + Shown.line(why) + ")");
    }

    private void problem(String what) {
        if (problems.size() < MOST_PROBLEMS && !problems.contains(what)) {
            problems.add(what);
        } else {
            problemsLeftOut++;
        }
    }

    private String who() {
        return driver.isEmpty() ? "an OpenCL driver" : "the OpenCL driver '" + driver + "'";
    }

    /** The process is gone; how it ended matters if it had not said all. */
    void failed(String how) {
        if (!complete) {
            problems.add(who() + " " + how);
        }
        driver = "";
    }

    boolean isComplete() {
        return complete;
    }

    /** The number of the first that was not asked yet. */
    int nextPlatform() {
        return nextPlatform;
    }

    LoadLauncher.Listing listing() {
        List<String> all = new ArrayList<>(problems);
        if (problemsLeftOut > 0) {
            all.add("and " + problemsLeftOut + " more of that kind");
        }
        return new LoadLauncher.Listing(
                devices,
                devices.isEmpty() && all.isEmpty() ? "OpenCL is there but offers no device" : String.join("; ", all));
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.leftover;

import dev.loadwitness.agent.process.OwnProcess;
import dev.loadwitness.runlog.disk.Found;
import java.io.IOException;
import java.nio.file.Path;
import java.util.Optional;
import java.util.concurrent.CountDownLatch;
import java.util.concurrent.TimeUnit;

/**
 * The copy of this program that the bundle's launcher made in memory, and from which it runs. The launcher names it with
 * the property {@value OwnProcess#MEMORY_COPY}; it goes when the program ends. What a kill leaves, {@link Leftovers} finds.
 */
public final class MemoryCopy {
    /** Longer than a run takes to close its log after a signal, a disk that is gone included. */
    private static final long LONGEST_WAIT_SECONDS = 120;

    private static volatile CountDownLatch needed = new CountDownLatch(0);

    private MemoryCopy() {}

    /** Removes the copy when this program ends by itself or by a signal that can be caught. */
    public static void removeAtExit() {
        if (System.getProperty(OwnProcess.MEMORY_COPY) != null) {
            Runtime.getRuntime().addShutdownHook(new Thread(MemoryCopy::removeWhenDone, "remove the copy in memory"));
        }
    }

    /** What still runs when a signal comes, and may need parts of the copy, counts {@code latch} down when it is done. */
    public static void keepUntil(CountDownLatch latch) {
        needed = latch;
    }

    private static void removeWhenDone() {
        try {
            if (!needed.await(LONGEST_WAIT_SECONDS, TimeUnit.SECONDS)) {
                return; // 'clean' finds it
            }
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
        }
        removeOwn();
    }

    /** Now; nothing that was not loaded yet can be loaded afterwards. Harmless if it is gone already. */
    public static synchronized void removeOwn() {
        String folder = System.getProperty(OwnProcess.MEMORY_COPY);
        if (folder != null) {
            remove(Path.of(folder), Path.of("/proc"), ProcessHandle.current().pid());
        }
    }

    /** Only a folder with the launcher's name and this very process in its owner file. */
    static boolean remove(Path folder, Path proc, long pid) {
        try {
            Optional<Found> copy = Found.look(folder).filter(Found::isFolder);
            Optional<Owner> owner = Owner.of(folder);
            if (copy.isEmpty()
                    || !folder.getFileName().toString().startsWith(Leftovers.COPY_PREFIX)
                    || owner.isEmpty()
                    || !owner.equals(Owner.running(proc, pid))) {
                return false;
            }
            copy.get().remove();
            return true;
        } catch (IOException e) {
            return false; // the program is ending: 'clean' says what could not be removed
        }
    }
}

// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.process;

import dev.loadwitness.runlog.disk.Folder;
import dev.loadwitness.runlog.disk.FoundEntry;
import dev.loadwitness.runlog.disk.Mount;
import dev.loadwitness.runlog.disk.Self;
import java.io.ByteArrayInputStream;
import java.io.IOException;
import java.io.InputStream;
import java.io.OutputStream;
import java.nio.channels.Channels;
import java.nio.charset.StandardCharsets;
import java.nio.file.Path;
import java.security.SecureRandom;
import java.util.HexFormat;
import java.util.List;
import java.util.Optional;
import java.util.concurrent.CountDownLatch;
import java.util.concurrent.TimeUnit;

/**
 * A folder in the machine's memory in which nobody but this user can change a name. The bundle's launcher makes it and
 * copies the program into it; else it is made here when a process is started first. What native code we need is loaded
 * from there and from nowhere else, and what graphics drivers leave behind is left there. It goes when the program ends;
 * what a kill leaves, {@code clean} finds.
 */
public final class MemoryFolder {
    /** Names the folder that the launcher made, and from which the program runs. */
    static final String PROPERTY = "loadwitness.memory";

    public static final String PREFIX = "loadwitness-";

    /** Where drivers may leave what they want. */
    public static final String DRIVERS = "drivers";

    private static final List<Path> PLACES = List.of(Path.of("/dev/shm"), Path.of("/run"), Path.of("/tmp"));
    private static final String UNPACKED = "/com/sun/jna/linux-x86-64/libjnidispatch.so";
    private static final int RANDOM_BYTES = 12;

    /** Longer than a run takes to close its log after a signal, a disk that is gone included. */
    private static final long LONGEST_WAIT_SECONDS = 120;

    private static Optional<Path> made = Optional.empty();
    private static boolean removedAtExit;
    private static volatile CountDownLatch needed = new CountDownLatch(0);

    private MemoryFolder() {}

    /** Removes it, once there is one, when this program ends by itself or by a signal that can be caught. */
    public static synchronized void removeAtExit() {
        if (!removedAtExit) {
            removedAtExit = true;
            Runtime.getRuntime()
                    .addShutdownHook(new Thread(MemoryFolder::removeWhenDone, "remove the folder in memory"));
        }
    }

    /** What still runs when a signal comes, and may need what is in it, counts {@code latch} down when it is done. */
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
        removeNow();
    }

    /** Nothing that was not loaded yet can be loaded afterwards. Harmless if it is gone already. */
    public static void removeNow() {
        ifThere()
                .ifPresent(folder ->
                        remove(folder, Path.of("/proc"), ProcessHandle.current().pid()));
    }

    /** Only a folder of that name with this very process in its owner file. */
    public static boolean remove(Path folder, Path proc, long pid) {
        try {
            Optional<FoundEntry> copy = FoundEntry.look(folder).filter(FoundEntry::isFolder);
            Optional<Owner> owner = Owner.of(folder);
            if (copy.isEmpty()
                    || !folder.getFileName().toString().startsWith(PREFIX)
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

    private static synchronized Optional<Path> ifThere() {
        return Optional.ofNullable(System.getProperty(PROPERTY)).map(Path::of).or(() -> made);
    }

    /** The folder; made if there is none yet. */
    static synchronized Path get() throws IOException {
        Optional<Path> there = ifThere();
        if (there.isEmpty()) {
            made = Optional.of(make());
            removeAtExit();
        }
        return ifThere().orElseThrow();
    }

    /** Where drivers may write. */
    static synchronized Path drivers() throws IOException {
        Folder folder = Folder.at(get().resolve(DRIVERS));
        folder.make();
        return get().resolve(DRIVERS);
    }

    /** The folder of our one native library: a bundle has it unpacked, else it is unpacked here. */
    static synchronized Path natives() throws IOException {
        String unpacked = System.getProperty("jna.boot.library.path");
        if (unpacked != null) {
            return Path.of(unpacked);
        }
        Path folder = get().resolve("lib").resolve("native");
        String name = UNPACKED.substring(UNPACKED.lastIndexOf('/') + 1);
        Folder natives = Folder.at(folder);
        natives.make();
        if (!natives.names().contains(name)) {
            try (InputStream in = MemoryFolder.class.getResourceAsStream(UNPACKED)) {
                if (in == null) {
                    throw new IOException("this program lacks " + UNPACKED);
                }
                write(natives, name, in);
            }
        }
        return folder;
    }

    private static Path make() throws IOException {
        IOException last = new IOException("none of " + PLACES + " lets programs be loaded from it");
        for (Path place : PLACES) {
            if (isWithoutPrograms(place)) {
                continue;
            }
            byte[] random = new byte[RANDOM_BYTES];
            new SecureRandom().nextBytes(random);
            try {
                String user =
                        Self.user().isPresent() ? Long.toString(Self.user().getAsLong()) : "0";
                Path folder = Folder.at(place)
                        .makeNew(PREFIX + user + "-" + HexFormat.of().formatHex(random));
                Owner owner = Owner.running(
                                Path.of("/proc"), ProcessHandle.current().pid())
                        .orElseThrow(() -> new IOException("this system does not tell when a process began"));
                byte[] text = owner.text().getBytes(StandardCharsets.US_ASCII);
                write(Folder.at(folder), Owner.FILE, new ByteArrayInputStream(text));
                return folder;
            } catch (IOException e) {
                last = e; // full, not there, or not to be written to
            }
        }
        throw new IOException(
                "no folder in memory can be made for what this program loads: " + last.getMessage(), last);
    }

    private static boolean isWithoutPrograms(Path place) {
        return Mount.of(place, Mount.all())
                .filter(m -> m.options().contains("noexec"))
                .isPresent();
    }

    private static void write(Folder folder, String name, InputStream in) throws IOException {
        try (OutputStream out = Channels.newOutputStream(folder.create(name))) {
            in.transferTo(out);
        }
    }
}

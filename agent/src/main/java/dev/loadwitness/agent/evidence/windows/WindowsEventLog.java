// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.evidence.windows;

import com.sun.jna.Memory;
import com.sun.jna.Native;
import com.sun.jna.platform.win32.Wevtapi;
import com.sun.jna.platform.win32.Winevt.EVT_HANDLE;
import com.sun.jna.platform.win32.Winevt.EVT_QUERY_FLAGS;
import com.sun.jna.platform.win32.Winevt.EVT_RENDER_FLAGS;
import com.sun.jna.ptr.IntByReference;
import com.sun.jna.win32.W32APIOptions;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.ArrayList;
import java.util.Collections;
import java.util.List;
import java.util.concurrent.atomic.AtomicReference;

/**
 * The log through {@code wevtapi.dll}: EvtQuery, EvtNext, EvtRender, EvtClose as the vendor's reference of winevt.h has
 * them. The channel "System" may be read by any user who is logged on (from memory). <b>Never run on a Windows
 * machine.</b>
 */
final class WindowsEventLog implements SystemLog {
    private static final int ERROR_NO_MORE_ITEMS = 259;
    private static final int ERROR_TIMEOUT = 1460;
    private static final int BATCH = 32;

    /** As {@link EventXml} bounds it, in bytes of UTF-16. */
    private static final int RENDERED_BYTES_MOST = 2 * EventXml.CHARS_MOST;

    private final Path library;

    /** @param systemRoot the folder of Windows; relative names, which would be sought along a path, are refused */
    WindowsEventLog(Path systemRoot) {
        library = systemRoot.resolve("System32").resolve("wevtapi.dll");
    }

    @Override
    public Answer newest(String query, int most, Duration limit) {
        if (!library.isAbsolute() || !Files.isRegularFile(library)) {
            return Answer.none("no system event log on this system");
        }
        // A query's handle belongs to the thread that made it (document "EvtQuery function"), and EvtQuery itself knows
        // no time limit: so one thread does it all, and is left behind if it hangs.
        List<String> events = Collections.synchronizedList(new ArrayList<>());
        AtomicReference<String> trouble = new AtomicReference<>("");
        Thread asking = new Thread(() -> ask(query, most, limit, events, trouble), "event log");
        asking.setDaemon(true);
        asking.start();
        try {
            asking.join(Math.max(1, limit.toMillis()));
        } catch (InterruptedException e) {
            Thread.currentThread().interrupt();
            trouble.set("interrupted");
        }
        List<String> got;
        synchronized (events) {
            got = List.copyOf(events);
        }
        if (asking.isAlive() && trouble.get().isEmpty()) {
            return new Answer(got, "no answer within " + limit.toMillis() + " ms");
        }
        return new Answer(got, trouble.get());
    }

    private void ask(String query, int most, Duration limit, List<String> events, AtomicReference<String> trouble) {
        long deadline = System.nanoTime() + limit.toNanos();
        try {
            Wevtapi api = Native.load(library.toString(), Wevtapi.class, W32APIOptions.DEFAULT_OPTIONS);
            EVT_HANDLE results = api.EvtQuery(
                    null,
                    "System",
                    query,
                    EVT_QUERY_FLAGS.EvtQueryChannelPath | EVT_QUERY_FLAGS.EvtQueryReverseDirection);
            if (results == null) {
                trouble.set("EvtQuery failed with error " + Native.getLastError());
                return;
            }
            try {
                drain(api, results, most, deadline, events, trouble);
            } finally {
                api.EvtClose(results);
            }
        } catch (LinkageError | RuntimeException e) {
            trouble.set(
                    library.getFileName() + " cannot be used: " + e.getClass().getSimpleName());
        }
    }

    private static void drain(
            Wevtapi api,
            EVT_HANDLE results,
            int most,
            long deadline,
            List<String> events,
            AtomicReference<String> trouble) {
        IntByReference returned = new IntByReference();
        int seen = 0;
        while (seen < most) {
            long leftMillis = (deadline - System.nanoTime()) / 1_000_000;
            if (leftMillis <= 0) {
                trouble.set("the time limit came first");
                return;
            }
            EVT_HANDLE[] handles = new EVT_HANDLE[Math.min(BATCH, most - seen)];
            if (!api.EvtNext(results, handles.length, handles, (int) leftMillis, 0, returned)) {
                int error = Native.getLastError();
                if (error == ERROR_TIMEOUT) {
                    trouble.set("the time limit came first");
                } else if (error != ERROR_NO_MORE_ITEMS) {
                    trouble.set("EvtNext failed with error " + error);
                }
                return;
            }
            for (int i = 0; i < Math.min(returned.getValue(), handles.length); i++) {
                seen++;
                try {
                    String xml = render(api, handles[i]);
                    if (xml.isEmpty()) {
                        trouble.set("an event could not be rendered");
                    } else {
                        events.add(xml);
                    }
                } finally {
                    api.EvtClose(handles[i]);
                }
            }
        }
    }

    /** Empty if it cannot be had or is too large. */
    private static String render(Wevtapi api, EVT_HANDLE event) {
        IntByReference used = new IntByReference();
        IntByReference properties = new IntByReference();
        // First with no room, to learn how much it takes: the call fails by design and sets the number of bytes.
        api.EvtRender(null, event, EVT_RENDER_FLAGS.EvtRenderEventXml, 0, null, used, properties);
        int bytes = used.getValue();
        if (bytes <= 0 || bytes > RENDERED_BYTES_MOST) {
            return "";
        }
        Memory room = new Memory(bytes + 2L);
        room.clear();
        if (!api.EvtRender(null, event, EVT_RENDER_FLAGS.EvtRenderEventXml, bytes, room, used, properties)) {
            return "";
        }
        return room.getWideString(0);
    }
}

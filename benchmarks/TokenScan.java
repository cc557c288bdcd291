// SPDX-License-Identifier: Apache-2.0

import com.fasterxml.jackson.core.JsonFactory;
import com.fasterxml.jackson.core.JsonParser;
import com.sun.management.OperatingSystemMXBean;
import java.io.InputStream;
import java.lang.management.ManagementFactory;
import java.nio.file.Files;
import java.nio.file.Path;
import java.security.DigestInputStream;
import java.security.MessageDigest;
import java.util.HexFormat;

/**
 * What {@code judge} is compared with: every JSON token of a file is passed over, no value is looked at, and SHA-256 is
 * taken over all bytes, in one pass by one thread. Prints {@code SECONDS PROCESSOR_SECONDS TOKENS SHA256}, without the
 * start of the JVM and the compiling of this file; processor time is that of all threads, so the JVM's own compiling counts.
 */
public final class TokenScan {
    private TokenScan() {}

    public static void main(String[] args) throws Exception {
        MessageDigest sha256 = MessageDigest.getInstance("SHA-256");
        long tokens = 0;
        OperatingSystemMXBean process = (OperatingSystemMXBean) ManagementFactory.getOperatingSystemMXBean();
        long begin = System.nanoTime();
        long processorBegin = process.getProcessCpuTime();
        try (InputStream file = new DigestInputStream(Files.newInputStream(Path.of(args[0])), sha256);
                JsonParser parser = new JsonFactory().createParser(file)) {
            while (parser.nextToken() != null) {
                tokens++;
            }
        }
        String digest = HexFormat.of().formatHex(sha256.digest());
        double seconds = (System.nanoTime() - begin) / 1e9;
        double processorSeconds = (process.getProcessCpuTime() - processorBegin) / 1e9;
        System.out.println(seconds + " " + processorSeconds + " " + tokens + " " + digest);
    }
}

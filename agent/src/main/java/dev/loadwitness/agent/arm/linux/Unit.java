// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.arm.linux;

import java.nio.file.Path;
import java.util.List;
import java.util.Set;
import java.util.TreeSet;

/** The text of the systemd unit. Paths in it are those of the running system, whatever tree it is written into. */
final class Unit {
    static final String NAME = "loadwitness-resume.service";
    static final Path FILE = Path.of("etc/systemd/system", NAME);
    static final Path WANTED = Path.of("etc/systemd/system/multi-user.target.wants", NAME);
    static final Path FOLDER = Path.of("var/lib/loadwitness");
    static final String LIST = "program.sha256";

    private Unit() {}

    /**
     * @param command absolute path of Java and its arguments
     * @param listDigest SHA-256 of the list of the program's digests
     * @param writable folders that going on writes to
     * @param foreignFiles whether some of them belong to another user, as on a disk without owners
     */
    static String text(List<String> command, String listDigest, List<Path> writable, boolean foreignFiles) {
        String folder = "/" + FOLDER;
        // setpriv drops the workers' rights and the agent ends them; the kernel's messages are root's. Nothing else.
        Set<String> rights = new TreeSet<>(List.of("CAP_KILL", "CAP_SETGID", "CAP_SETUID", "CAP_SYSLOG"));
        if (foreignFiles) {
            rights.add("CAP_DAC_OVERRIDE");
        }
        StringBuilder paths = new StringBuilder(quoted("-" + folder));
        writable.forEach(p -> paths.append(' ').append(quoted("-" + p)));
        StringBuilder start = new StringBuilder();
        for (String word : command) {
            // Only in commands is a dollar sign the begin of a variable.
            start.append(start.isEmpty() ? "" : " ").append(quoted(word.replace("$", "$$")));
        }
        return """
                # Installed by 'loadwitness-agent arm' for one run; 'loadwitness-agent disarm' removes it.
                [Unit]
                Description=Goes on with a burn-in run that broke off
                ConditionPathExists=%1$s/state
                DefaultDependencies=no
                After=local-fs.target systemd-journald.socket
                Before=multi-user.target display-manager.service shutdown.target
                Conflicts=shutdown.target

                [Service]
                Type=exec
                # Nothing is executed that is not byte for byte what was installed.
                ExecStartPre=/bin/sh -c 'cd %1$s && echo "%2$s  %3$s" | /usr/bin/sha256sum --check --strict --status && /usr/bin/sha256sum --check --strict --status %3$s'
                ExecStart=%4$s
                # When the run is over its state is gone, and so is all of this then; outside of the walls below. They still
                # hold for the folders that may be written to, each of which is a mount in here that cannot be removed.
                ExecStopPost=+/usr/bin/nsenter --target=1 --mount -- /bin/sh -c 'test -e %1$s/state || { rm -rf %1$s; rm -f /%5$s /%6$s; /usr/bin/systemctl daemon-reload; }'
                Restart=no
                KillMode=mixed
                TimeoutStopSec=100
                StandardOutput=journal+console
                StandardError=journal+console
                Environment=LC_ALL=C.UTF-8
                NoNewPrivileges=yes
                CapabilityBoundingSet=%7$s
                PrivateNetwork=yes
                RestrictAddressFamilies=AF_UNIX AF_NETLINK
                ProtectSystem=strict
                ReadWritePaths=%8$s
                ProtectHome=read-only
                PrivateTmp=yes
                ProtectControlGroups=yes
                ProtectHostname=yes
                ProtectKernelModules=yes
                ProtectKernelTunables=yes
                RestrictNamespaces=yes
                RestrictRealtime=yes
                RestrictSUIDSGID=yes
                LockPersonality=yes
                SystemCallArchitectures=native

                [Install]
                WantedBy=multi-user.target
                """.formatted(folder, listDigest, LIST, start, WANTED, FILE, String.join(" ", rights), paths);
    }

    /** As systemd.syntax(7) and systemd.unit(5) have it: in quotes, with backslashes and percent signs doubled. */
    private static String quoted(String word) {
        return "\"" + word.replace("\\", "\\\\").replace("\"", "\\\"").replace("%", "%%") + "\"";
    }
}

// SPDX-License-Identifier: Apache-2.0
// The other user of checks/races.py: changes what names mean, as fast as the kernel does it, until it is killed.
//
//   swap exchange A B            A and B take each other's place
//   swap plant NAME TARGET       NAME is a link to TARGET, or not there
//   swap catch FOLDER START TARGET   every file in FOLDER whose name begins with START becomes a link to TARGET
#define _GNU_SOURCE
#include <dirent.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/syscall.h>
#include <unistd.h>

static void catch(const char *folder, const char *start, const char *target) {
    DIR *stream = opendir(folder);
    if (!stream || chdir(folder)) {
        return;
    }
    for (;;) {
        struct dirent *entry;
        rewinddir(stream);
        while ((entry = readdir(stream))) {
            if (entry->d_type != DT_LNK && !strncmp(entry->d_name, start, strlen(start)) && !unlink(entry->d_name)) {
                (void)!symlink(target, entry->d_name);
            }
        }
    }
}

int main(int count, char **words) {
    if (count == 4 && !strcmp(words[1], "exchange")) {
        for (;;) {
            syscall(SYS_renameat2, AT_FDCWD, words[2], AT_FDCWD, words[3], 2 /* RENAME_EXCHANGE */);
        }
    }
    if (count == 4 && !strcmp(words[1], "plant")) {
        for (;;) {
            (void)!symlink(words[3], words[2]);
            unlink(words[2]);
        }
    }
    if (count == 5 && !strcmp(words[1], "catch")) {
        catch(words[2], words[3], words[4]);
    }
    return 2;
}

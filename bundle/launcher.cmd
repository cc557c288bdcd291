@echo off
rem SPDX-License-Identifier: Apache-2.0
rem Starts @PROGRAM@ from wherever this folder lies, with the Java runtime that lies beside it and no other.
setlocal
set JAVA_TOOL_OPTIONS=
set _JAVA_OPTIONS=
set JDK_JAVA_OPTIONS=
set CLASSPATH=
set "home=%~dp0"
set "home=%home:~0,-1%"
if not exist "%home%\runtime\bin\java.exe" (
    echo @PROGRAM@: %home%\runtime\bin\java.exe is missing: copy the whole folder, not this file alone. 1>&2
    exit /b 69
)
set quick=
if "%~1"=="certify" set quick=-XX:TieredStopAtLevel=1
chcp 65001 >nul
"%home%\runtime\bin\java.exe" %quick% @JAVA_FLAGS@ "-Djna.boot.library.path=%home%\lib\native" -Djna.nounpack=true ^
    -Djna.nosys=true "-Dloadwitness.home=%home%" -jar "%home%\lib\@PROGRAM@.jar" %*
exit /b %ERRORLEVEL%
